// Run a board script in the MicroPython VM: node vm_run.mjs MODULE_FOLDER SCRIPT FILE=PATH_IN_VM ...
// Prints the interpreter's name and version, then one line for every line of the script.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [moduleFolder, script, ...files] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(join(moduleFolder, "micropython.mjs")).href);

const out = [];
const mp = await loadMicroPython({
  heapsize: 160 * 1024, // what a board with 264 kB of RAM leaves, more or less
  stdout: (line) => out.push(line),
  stderr: (line) => process.stderr.write(line + "\n"),
});

for (const pair of [...files, script + "=/script.txt"]) {
  const cut = pair.lastIndexOf("=");
  const target = pair.slice(cut + 1);
  const folders = target.split("/").slice(1, -1);
  folders.reduce((above, name) => {
    const folder = above + "/" + name;
    if (!mp.FS.analyzePath(folder).exists) mp.FS.mkdir(folder);
    return folder;
  }, "");
  mp.FS.writeFile(target, readFileSync(pair.slice(0, cut)));
}

try {
  mp.runPython(`
import sys
sys.path.append("/")
print(sys.implementation.name, ".".join([str(n) for n in sys.implementation.version[:3]]))
import board_script
player = board_script.Player()
with open("/script.txt") as lines:
    for line in lines:
        print(player.step(line))
`);
} catch (error) {
  // Left to itself, Node would print the source of the whole VM instead.
  process.stderr.write(String(error.message) + "\n");
  process.exitCode = 1;
}
process.stdout.write(out.join("\n") + "\n");
