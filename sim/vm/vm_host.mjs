// Host program of the MicroPython VM: node vm_host.mjs VM_FOLDER LINE_FD FILE=PATH_IN_VM ...
//
// stdin and stdout are the control channel: one line in, one line out, in virtual time. LINE_FD is the serial
// line, real bytes in real time. It ends when stdin ends. What the lines mean is board_program.py's.
import { readFileSync, writeSync } from "node:fs";
import { Socket } from "node:net";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { pathToFileURL } from "node:url";

const TICKS = 2 ** 30;
const HEAP = 160 * 1024; // what a board with 264 kB of RAM leaves, more or less; the VM may add to it
const [moduleFolder, lineFd, ...files] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(join(moduleFolder, "micropython.mjs")).href);
const sources = files.map((pair) => {
  const cut = pair.lastIndexOf("=");
  return [pair.slice(cut + 1), readFileSync(pair.slice(0, cut))];
});

let board = null; // the functions of the present VM, null while there is none
let silenceUs = 0;
let lastByteUs = 0;
let looking = false;

const nowUs = () => Math.floor(performance.now() * 1000);

function install(mp) {
  for (const [target, bytes] of sources) {
    target.split("/").slice(1, -1).reduce((above, name) => {
      const folder = above + "/" + name;
      if (!mp.FS.analyzePath(folder).exists) mp.FS.mkdir(folder);
      return folder;
    }, "");
    mp.FS.writeFile(target, bytes);
  }
}

// Power on: a new VM, so that nothing is left of what the board knew.
async function boot(words) {
  board = null;
  const mp = await loadMicroPython({ heapsize: HEAP, stdout: complain, stderr: complain });
  install(mp);
  mp.globals.set("words", words.join(" "));
  mp.runPython(`
import sys
sys.path.append("/")
from board_program import BoardProgram
board = BoardProgram(words.split())
control, arrived, turn, told = board.control, board.arrived, board.turn, board.told
`);
  const told = mp.globals.get("told");
  board = { control: mp.globals.get("control"), arrived: mp.globals.get("arrived"), turn: mp.globals.get("turn") };
  silenceUs = Number(words[3]);
  return told();
}

function complain(line) {
  process.stderr.write(line + "\n");
}

// A board whose program has failed is dead; the host is told why on stderr.
function die(error) {
  complain(String(error.message ?? error).trim());
  process.exit(1);
}

function guarded(act) {
  return (...what) => {
    try {
      act(...what);
    } catch (error) {
      die(error);
    }
  };
}

async function obey(line) {
  const words = line.split(" ");
  const answer = words[0] === "boot" ? await boot(words.slice(1)) : board.control(line);
  writeSync(1, answer + "\n");
}

let orders = Promise.resolve();
let rest = "";
process.stdin.setEncoding("ascii");
process.stdin.on("data", (text) => {
  const lines = (rest + text).split("\n");
  rest = lines.pop();
  for (const line of lines) orders = orders.then(() => obey(line)).catch(die);
});
process.stdin.on("end", () => process.exit(0));

// The end of a frame is silence. A timer of whole milliseconds is too coarse for it, so the loop looks again
// and again, but only while a frame is coming in.
const look = guarded(() => {
  const now = nowUs();
  if (now - lastByteUs < silenceUs) {
    setImmediate(look);
    return;
  }
  looking = false;
  if (board === null) return;
  const reply = board.turn(now % TICKS);
  if (reply) line.write(Buffer.from(reply, "hex"));
});

const line = new Socket({ fd: Number(lineFd), readable: true, writable: true });
line.on("data", guarded((bytes) => {
  if (board === null) return;
  lastByteUs = nowUs();
  board.arrived(bytes.toString("hex"), lastByteUs % TICKS);
  if (!looking) {
    looking = true;
    setImmediate(look);
  }
}));
line.on("error", () => {});
