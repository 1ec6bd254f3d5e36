// Hearing back: that a bird arrived, its number in the catalogue, a second
// opinion. The phone asks for its own finds only, so that it costs the same in
// a large museum as in a small one.

import { NetError } from "./net";
import { authed } from "./session";
import { db, heardOf, opsOf, type Find, type Heard } from "./store";

interface Wire {
  fields?: { field: string; label: string; differs: boolean; said: { text: string; dot: string }[] }[];
  animals?: { id: string }[];
  verdicts?: { outcome: string; headline: string; findings?: { because: string }[]; who?: string }[];
}

const text = (w: Wire, field: string): string | undefined => w.fields?.find((f) => f.field === field)?.said[0]?.text;

function gather(h: Heard, record: string, w: Wire): void {
  for (const f of w.fields ?? []) {
    h.dots[`${record} ${f.field}`] = f.said.map((s) => s.dot);
    if (f.differs) h.differs.push(f.label);
  }
}

/** hear asks the server about one find and keeps the answer. */
export async function hear(f: Find): Promise<Heard> {
  const report = (await (await authed(`/v1/reports/${f.id}`)).json()) as Wire;
  const h: Heard = { find: f.id, at: Date.now(), differs: [], dots: {}, animals: [] };
  gather(h, f.id, report);
  const last = report.verdicts?.at(-1);
  if (last) h.answer = { headline: last.headline, because: last.findings?.[0]?.because ?? "", outcome: last.outcome };
  for (const a of f.animals) {
    const animal = (await (await authed(`/v1/animals/${a.id}`)).json()) as Wire;
    gather(h, a.id, animal);
    h.animals.push({ id: a.id, disposition: text(animal, "disposition"), intake: text(animal, "intake_no"), catalogue: text(animal, "catalogue_no") });
  }
  await (await db()).put("heard", h);
  return h;
}

const rest = 15 * 60_000;
const atOnce = 6;

/** hearAll asks about the finds that were sent and not asked about lately, the longest unasked first. */
export async function hearAll(): Promise<void> {
  const due: { f: Find; at: number }[] = [];
  for (const f of await (await db()).getAll("finds")) {
    const ops = await opsOf(f.id);
    const at = (await heardOf(f.id))?.at ?? 0;
    const news = ops.some((k) => (k.sentAt ?? 0) > at);
    if (ops[0]?.sent && (news || Date.now() - at > rest) && !(await heardOf(f.id))?.animals.some((a) => a.catalogue)) due.push({ f, at });
  }
  due.sort((a, b) => a.at - b.at);
  for (const { f } of due.slice(0, atOnce)) {
    await hear(f).catch((e: unknown) => { if (!(e instanceof NetError) || e.gone !== "refused") throw e; }); // not ours to see: not a failure to send
  }
}
