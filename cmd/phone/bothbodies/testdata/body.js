// Runs the phone's program outside a browser: every line of standard input is
// one call, {"f": name, "a": arguments}; every line of standard output is the
// text it answered with. Objects are handed over as the field page does it, as
// JSON; {"bytes": …} stands for bytes, {"bigint": …} for what no page hands over.
"use strict";
const fs = require("fs");
const [, , support, program] = process.argv;
globalThis.crypto ??= require("crypto").webcrypto;
require(support);

const argument = (a) =>
  a === null || typeof a !== "object" ? a
  : typeof a.bytes === "string" ? new Uint8Array(Buffer.from(a.bytes, "base64"))
  : typeof a.bigint === "string" ? BigInt(a.bigint)
  : JSON.stringify(a);

async function main() {
  const go = new Go();
  const { instance } = await WebAssembly.instantiate(fs.readFileSync(program), go.importObject);
  void go.run(instance);
  const out = fs.readFileSync(0, "utf8").split("\n").filter((line) => line !== "").map((line) => {
    const { f, a } = JSON.parse(line);
    const call = globalThis.wayfall[f];
    return JSON.stringify(call ? call(...a.map(argument)) : `no function ${f}`);
  });
  const text = Buffer.from(out.join("\n") + "\n");
  for (let at = 0; at < text.length;) at += fs.writeSync(1, text, at);
  process.exit(0);
}

main().catch((e) => { console.error(e); process.exit(1); });
