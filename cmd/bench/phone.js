// Times verdicts in the phone's core, in Node and on a page alike. Every find
// of the case is asked as the field page asks it: objects in as JSON, the
// answer read back from JSON.
"use strict";

function measure(given) {
  const ask = (name, ...args) => {
    const got = JSON.parse(globalThis.wayfall[name](...args.map((a) => a instanceof Uint8Array ? a : JSON.stringify(a))));
    if (got.error) throw new Error(`${name}: ${got.error.sentence}`);
    return got;
  };
  ask("load", given.kit);
  for (const name of ["region", "places"]) ask(name, Uint8Array.from(atob(given[name]), (c) => c.charCodeAt(0)));
  for (const [fields] of given.finds) {
    const { place } = JSON.parse(globalThis.wayfall.place(JSON.stringify(fields)));
    if (place) fields.place = place; // as the page does before it asks
  }
  const outcomes = {}, ms = [];
  let touched = 0;
  for (let round = 0; round <= given.rounds; round++) {
    for (const [fields, context] of given.finds) {
      const began = performance.now();
      const { verdict } = ask("cover", fields, context);
      const took = performance.now() - began;
      if (round === 0) continue; // the engine compiles while it warms
      ms.push(took);
      outcomes[verdict.outcome] = (outcomes[verdict.outcome] ?? 0) + 1;
      touched += verdict.findings.filter((f) => f.pack === given.padding).length;
    }
  }
  return JSON.stringify({ ms, outcomes, touched });
}

async function start(program) {
  const go = new Go();
  const { instance } = await WebAssembly.instantiate(program, go.importObject);
  void go.run(instance);
}

if (typeof document === "undefined") {
  const fs = require("fs");
  const [, , support, program, given] = process.argv;
  globalThis.crypto ??= require("crypto").webcrypto;
  require(support);
  start(fs.readFileSync(program)).then(() => {
    fs.writeSync(1, measure(JSON.parse(fs.readFileSync(given, "utf8"))));
    process.exit(0);
  }).catch((e) => { console.error(e); process.exit(1); });
} else {
  (async () => {
    await start(await (await fetch("phone.wasm")).arrayBuffer());
    globalThis.measured = measure(await (await fetch("case.json")).json());
  })().catch((e) => { globalThis.measured = JSON.stringify({ trouble: String(e) }); });
}
