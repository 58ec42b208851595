# Set-up shared by .ci/tankhand and .ci/test: Debian packages, the virtual environment, the node module.
# Sourced, never run. Says one line for each thing it installs and nothing when all is in place.

# The one list of Debian packages. What each is for stands beside it.
debian_to_run=(
    python3       # 3.11 or newer
    python3-venv  # makes .venv
)
debian_for_vm=(
    nodejs        # runs the MicroPython virtual machine that the firmware is tried in
    npm           # fetches that virtual machine
)
debian_to_test=(
    mbpoll        # a Modbus master that nobody here wrote, to read and write the firmware
)

# Where to look for a Python, in this order; a version manager's may come before Debian's and be too old.
pythons=(python3.11 python3 /usr/bin/python3)

micropython_vm='@micropython/micropython-webassembly-pyscript'
micropython_vm_version='1.27.0'

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
venv="$root/.venv"

say() { printf 'tankhand set-up: %s\n' "$*" >&2; }

give_up() {
    say "$@"
    exit 2
}

# Runs apt-get when this user may; otherwise says what is missing and how to install it.
install_debian() {
    local as_root=()
    if ! command -v apt-get >/dev/null; then
        give_up "this needs, and cannot install without apt-get: $*. Install them with this system's own package tool, then run the same command again."
    fi
    if [ "$(id -u)" -ne 0 ]; then
        if command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
            as_root=(sudo -n)
        else
            give_up "missing: $*. Install with:  sudo apt-get install $*   then run the same command again."
        fi
    fi
    say "installing Debian packages: $*"
    # An old package list is tried again with a fresh one; only the second failure is shown.
    if ! apt_install "$@" >/dev/null 2>&1; then
        "${as_root[@]}" apt-get -qq update </dev/null >&2 || say "apt-get update failed; trying with the package lists that are there"
        apt_install "$@" >&2 || give_up "apt-get could not install: $*. See its message above."
    fi
}

apt_install() {
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
        apt-get -qq install --yes --no-install-recommends "$@" </dev/null
}

# Prints the first Python that is new enough and able to make a virtual environment.
find_python() {
    local candidate
    for candidate in "${pythons[@]}"; do
        if "$candidate" -c 'import ensurepip, sys, venv; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            command -v "$candidate"
            return 0
        fi
    done
    return 1
}

# What .venv must have been made from: these settings, at this place (its scripts hold full paths).
wanted_stamp() { printf '%s %s\n' "$root" "$(sha256sum <"$root/pyproject.toml")"; }

stamped() { [ -x "$venv/bin/python" ] && [ -f "$venv/stamp-$1" ] && [ "$(<"$venv/stamp-$1")" = "$(wanted_stamp)" ]; }

venv_fits() {
    [ "$("$venv/bin/python" -c 'import sys; print(sys.prefix)' 2>/dev/null)" = "$venv" ] &&
        "$venv/bin/python" -m pip --version >/dev/null 2>&1
}

make_venv() {
    local python
    if ! python=$(find_python); then
        install_debian "${debian_to_run[@]}"
        python=$(find_python) || give_up "no Python 3.11 or newer that can make a virtual environment. Install it (Debian 12: ${debian_to_run[*]}), then run the same command again."
    fi
    say "making .venv with $("$python" --version)"
    "$python" -m venv --clear "$venv" >&2 </dev/null || give_up "could not make .venv; see the message above."
}

# install_python WHAT NAME...: install WHAT (the project with its extras) into .venv and stamp it as good for each NAME.
install_python() {
    local what=$1 name
    shift
    stamped "$1" && return 0
    exec 9<"$root/pyproject.toml"
    flock 9 # two first runs at once would spoil each other's .venv
    if ! stamped "$1"; then
        venv_fits || make_venv
        say "installing Python packages into .venv (a minute or so, once)"
        "$venv/bin/python" -m pip install -qq --no-input --disable-pip-version-check --editable "$what" >&2 </dev/null ||
            give_up "pip could not install the packages; see its message above. Is the network there?"
        for name in "$@"; do wanted_stamp >"$venv/stamp-$name"; done
    fi
    exec 9<&-
}

set_up_to_run() { install_python "$root" run; }

# The MicroPython virtual machine, in which the real firmware runs without a board.
set_up_vm() {
    local home="$venv/node/node_modules/$micropython_vm"
    if ! command -v node >/dev/null; then
        install_debian "${debian_for_vm[@]}"
    elif [ ! -d "$home" ] && ! command -v npm >/dev/null; then
        install_debian npm
    fi
    if ! grep -qs "\"version\": \"$micropython_vm_version\"" "$home/package.json"; then
        say "installing the MicroPython $micropython_vm_version virtual machine into .venv/node"
        npm install --prefix "$venv/node" --no-audit --no-fund --no-update-notifier --loglevel=error \
            "$micropython_vm@$micropython_vm_version" >/dev/null </dev/null ||
            give_up "npm could not install $micropython_vm@$micropython_vm_version; see its message above."
    fi
}

set_up_to_test() {
    install_python "$root[test]" test run
    command -v mbpoll >/dev/null || install_debian "${debian_to_test[@]}"
    set_up_vm
}
