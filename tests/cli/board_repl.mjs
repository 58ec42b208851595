// The prompt of the MicroPython VM on stdin and stdout, as a board's USB port has it: node board_repl.mjs FOLDER
// Two things differ from a board and are put right here. This VM cannot block for input, so "raw paste" is refused
// as its protocol allows ("R" and a zero byte). And its number for "no such file" is 44, where a board says 2.
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const { loadMicroPython } = await import(pathToFileURL(join(process.argv[2], "micropython.mjs")).href);
const RAW_PASTE = [0x05, 0x41, 0x01];
const NO_SUCH_FILE = Buffer.from("OSError: 44");
const AS_ON_A_BOARD = Buffer.from("OSError: [Errno 2] ENOENT");

let unsaid = Buffer.alloc(0);
function say(bytes) {
  for (const byte of bytes) {
    unsaid = Buffer.concat([unsaid, Buffer.from([byte])]);
    if (unsaid.equals(NO_SUCH_FILE)) unsaid = AS_ON_A_BOARD;
    else if (NO_SUCH_FILE.subarray(0, unsaid.length).equals(unsaid)) continue;
    process.stdout.write(unsaid);
    unsaid = Buffer.alloc(0);
  }
}

const mp = await loadMicroPython({ heapsize: 512 * 1024, linebuffer: false, stdout: say });
let held = [];
function hear(byte) {
  held.push(byte);
  const asked = held.every((one, place) => one === RAW_PASTE[place]);
  if (asked && held.length < RAW_PASTE.length) return;
  const heard = held;
  held = [];
  if (asked) process.stdout.write(Buffer.from([0x52, 0x00]));
  else for (const one of heard) mp.replProcessChar(one);
}

mp.replInit();
process.stdin.on("data", (chunk) => chunk.forEach(hear));
