"""The set-up scripts install what they may, name what they may not, and say nothing when all is in place.

The scripts run for real in bash; what would change the machine (apt-get, sudo, pip) is a stand-in that
writes down how it was called.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPTS = Path(__file__).parents[2] / ".ci"
TOOLS = ("bash", "cat", "dirname", "env", "flock", "grep", "mkdir", "sha256sum")


class Machine:
    """A checkout and a PATH of its own, on which only the named tools exist."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / "checkout"
        self.bin = folder / "bin"
        self.called = folder / "called"
        shutil.copytree(SCRIPTS, self.root / ".ci")
        (self.root / "pyproject.toml").write_text("[project]\n")
        self.bin.mkdir()
        for tool in TOOLS:
            place = shutil.which(tool)
            assert place, tool
            (self.bin / tool).symlink_to(place)
        self.user(1000)

    def user(self, number: int) -> None:
        self.tool("id", f"echo {number}")

    def tool(self, name: str, does: str = "") -> None:
        self.script(self.bin / name, f'echo "{name} $*" >>"{self.called}"\n{does}')

    def script(self, place: Path, does: str) -> None:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(f"#!/usr/bin/env bash\n{does}\n")
        place.chmod(0o755)

    def calls(self, name: str) -> list[str]:
        lines = self.called.read_text().splitlines() if self.called.exists() else []
        return [line for line in lines if line.startswith(f"{name} ")]

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [self.bin / "bash", *words],
            env={"PATH": str(self.bin), "HOME": str(self.root)},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )

    def set_up(self, commands: str) -> subprocess.CompletedProcess[str]:
        return self.run("-c", f"set -euo pipefail; source '{self.root}/.ci/set_up.sh'; {commands}")

    def tankhand(self, *words: str) -> subprocess.CompletedProcess[str]:
        return self.run(str(self.root / ".ci" / "tankhand"), *words)

    def give_python(self) -> None:
        """Put in a Python whose venv and pip only write down that they were called."""
        in_venv = self.root / ".venv" / "bin"
        python = f'''
echo "python $*" >>"{self.called}"
case "$*" in
    *"-m venv"*) mkdir -p "{in_venv}"
                 cat "$0" >"{in_venv}/python"
                 cat "{self.bin}/said" >"{in_venv}/tankhand"
                 "{shutil.which("chmod")}" +x "{in_venv}/python" "{in_venv}/tankhand" ;;
    *sys.prefix*) echo "{self.root}/.venv" ;;
    --version) echo "Python 3.11.2" ;;
esac'''
        self.script(self.bin / "python3.11", python)
        self.script(self.bin / "said", 'echo "tankhand ran: $*"')


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


@pytest.mark.parametrize("script", sorted(path.name for path in SCRIPTS.iterdir()))
def test_every_script_is_bash_that_parses(script: str):
    run = subprocess.run(["bash", "-n", SCRIPTS / script], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stderr) == (0, "")


@pytest.mark.parametrize("script", ["run", "tankhand", "test"])
def test_every_script_that_runs_stops_at_the_first_fault_and_is_executable(script: str):
    assert "set -euo pipefail" in (SCRIPTS / script).read_text().splitlines()
    assert os.access(SCRIPTS / script, os.X_OK)


def test_the_first_run_makes_the_venv_and_the_second_says_nothing(machine: Machine):
    machine.give_python()
    first = machine.tankhand("plan", "--json")
    assert (first.returncode, first.stdout) == (0, "tankhand ran: plan --json\n")
    assert "making .venv" in first.stderr
    assert len([call for call in machine.calls("python") if "pip install" in call]) == 1
    second = machine.tankhand("plan")
    assert (second.returncode, second.stdout, second.stderr) == (0, "tankhand ran: plan\n", "")


def test_a_run_that_waited_for_another_ones_set_up_installs_nothing(machine: Machine):
    machine.give_python()
    machine.tankhand()
    stamp = (machine.root / ".venv" / "stamp-run").read_text()
    (machine.root / ".venv" / "stamp-run").unlink()
    (machine.bin / "flock").unlink()
    machine.tool("flock", f'echo "{stamp.strip()}" >"{machine.root}/.venv/stamp-run"')
    second = machine.tankhand()
    assert (second.returncode, second.stderr) == (0, "")
    assert machine.calls("flock") == ["flock 9"]
    assert len([call for call in machine.calls("python") if "pip install" in call]) == 1


def test_a_changed_pyproject_installs_again_into_the_same_venv(machine: Machine):
    machine.give_python()
    machine.tankhand()
    (machine.root / "pyproject.toml").write_text("[project]\nversion = '2'\n")
    machine.tankhand()
    calls = machine.calls("python")
    assert len([call for call in calls if "pip install" in call]) == 2
    assert len([call for call in calls if "-m venv" in call]) == 1


def test_a_checkout_that_was_moved_makes_its_venv_anew(machine: Machine):
    machine.give_python()
    machine.tankhand()
    stamp = machine.root / ".venv" / "stamp-run"
    stamp.write_text(stamp.read_text().replace(str(machine.root), "/where/it/was"))
    machine.script(machine.root / ".venv" / "bin" / "python", "echo /where/it/was/.venv")
    assert machine.tankhand().returncode == 0
    assert len([call for call in machine.calls("python") if "-m venv" in call]) == 2


def test_a_failed_install_is_tried_again_next_time(machine: Machine):
    machine.give_python()
    python = machine.bin / "python3.11"
    python.write_text(
        python.read_text().replace("case", 'if [[ "$*" == *"pip install"* ]]; then exit 1; fi\ncase', 1)
    )
    failed = machine.tankhand()
    assert failed.returncode == 2
    assert "pip could not install" in failed.stderr
    assert not (machine.root / ".venv" / "stamp-run").exists()


def test_without_the_right_to_install_it_names_the_packages_and_the_command(machine: Machine):
    machine.tool("apt-get")
    run = machine.set_up("install_debian python3 python3-venv")
    assert run.returncode == 2
    assert "missing: python3 python3-venv" in run.stderr
    assert "sudo apt-get install python3 python3-venv" in run.stderr
    assert machine.calls("apt-get") == []


def test_a_sudo_that_asks_for_a_password_is_no_right_to_install(machine: Machine):
    machine.tool("apt-get")
    machine.tool("sudo", "exit 1")
    run = machine.set_up("install_debian npm")
    assert run.returncode == 2
    assert "missing: npm" in run.stderr
    assert machine.calls("apt-get") == []


def test_root_installs_and_says_so_in_one_line(machine: Machine):
    machine.user(0)
    machine.tool("apt-get")
    run = machine.set_up("install_debian nodejs npm")
    assert (run.returncode, run.stdout) == (0, "")
    assert run.stderr == "tankhand set-up: installing Debian packages: nodejs npm\n"
    assert machine.calls("apt-get") == ["apt-get -qq install --yes --no-install-recommends nodejs npm"]


def test_sudo_without_a_password_installs(machine: Machine):
    machine.tool("apt-get")
    machine.tool("sudo", '[ "$1" = -n ] && shift; "$@"')
    assert machine.set_up("install_debian npm").returncode == 0
    assert machine.calls("apt-get") == ["apt-get -qq install --yes --no-install-recommends npm"]


def test_an_old_package_list_is_refreshed_before_giving_up(machine: Machine):
    machine.user(0)
    machine.tool("apt-get", f'[[ "$*" == *update* ]] || [ "$(grep -c install {machine.called})" -gt 1 ]')
    assert machine.set_up("install_debian npm").returncode == 0
    assert [call.split()[2] for call in machine.calls("apt-get")] == ["install", "update", "install"]


def test_a_package_that_cannot_be_had_is_an_error_that_names_it(machine: Machine):
    machine.user(0)
    machine.tool("apt-get", "exit 100")
    run = machine.set_up("install_debian npm")
    assert run.returncode == 2
    assert "could not install: npm" in run.stderr


def test_a_system_without_apt_get_is_told_what_to_install(machine: Machine):
    run = machine.set_up("install_debian python3")
    assert run.returncode == 2
    assert "without apt-get: python3" in run.stderr


@pytest.mark.parametrize(("version", "found"), [((3, 10, 9), "python3"), ((3, 11, 0), "python3.11")])
def test_a_python_that_is_too_old_is_passed_over(machine: Machine, version: tuple[int, ...], found: str):
    # A real Python that gives itself out as another version, so that the real question is asked of it.
    claim = f"import sys; sys.version_info = {version}; exec(sys.argv[1])"
    machine.tool("python3.11", f'exec "{sys.executable}" -c "{claim}" "$2"')
    machine.tool("python3", f'exec "{sys.executable}" "$@"')
    run = machine.set_up("pythons=(python3.11 python3); find_python")
    assert run.stdout == f"{machine.bin}/{found}\n"


def test_no_python_new_enough_is_said_with_its_remedy(machine: Machine):
    machine.user(0)
    machine.tool("apt-get")
    run = machine.set_up("pythons=(python3.11 python3); make_venv")
    assert run.returncode == 2
    assert "no Python 3.11 or newer" in run.stderr
    assert "python3-venv" in run.stderr


def test_a_failed_check_fails_the_whole_and_is_named_though_the_tests_pass(machine: Machine):
    machine.give_python()
    machine.tankhand()
    for tool in ("ruff", "mypy", "lint-imports", "pytest"):
        machine.tool(tool, "exit 1" if tool == "mypy" else "")
    stamp = (machine.root / ".venv" / "stamp-run").read_text()
    (machine.root / ".venv" / "stamp-test").write_text(stamp)
    for tool in ("node", "npm", "mbpoll"):
        machine.tool(tool)
    run = machine.run(str(machine.root / ".ci" / "test"), "-k", "dose")
    assert run.returncode == 1
    assert "FAILED: mypy" in run.stderr
    assert machine.calls("pytest") == ["pytest -k dose"]
    machine.tool("mypy")
    assert machine.run(str(machine.root / ".ci" / "test")).returncode == 0


@pytest.mark.parametrize("words", [("simulate", "--rig", "vm"), ("serve", "--rig=vm", "--speed", "60")])
def test_only_a_rig_in_the_virtual_machine_fetches_it(machine: Machine, words: tuple[str, ...]):
    machine.give_python()
    for tool in ("node", "npm"):
        machine.tool(tool)
    machine.tankhand("simulate", "--rig", "sim")
    assert machine.calls("npm") == []
    assert machine.tankhand(*words).returncode == 0
    (fetched,) = machine.calls("npm")
    assert "micropython-webassembly-pyscript@1.27.0" in fetched


def test_the_tests_ask_for_every_peer_that_is_missing(machine: Machine):
    machine.give_python()
    machine.tankhand()
    stamp = (machine.root / ".venv" / "stamp-run").read_text()
    (machine.root / ".venv" / "stamp-test").write_text(stamp)
    run = machine.set_up("set_up_to_test")
    assert run.returncode == 2
    assert "mbpoll" in run.stderr
