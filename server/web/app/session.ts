// Signing in: a code from the museum is exchanged once for tokens. The phone
// then works without the network for as long as it likes; tokens matter only
// when something is sent.

import { core } from "./core";
import { ask, NetError } from "./net";
import { db, get, newId, set, type Device, type Session } from "./store";

/** device returns this phone's chain. A phone with an empty store is a new device. */
export async function device(): Promise<Device> {
  const old = await get("device");
  if (old) return old;
  const id = newId();
  const fresh: Device = { id, seq: 0, link: core.genesis(id), clock: "", nextTag: 1, prefix: "" };
  await set("device", fresh);
  return fresh;
}

interface Signed {
  access: string; expires_in: number; refresh: string;
  person: Session["person"]; institution: Session["institution"] | string;
  device: { id: string; tag_prefix: string };
}

/** enrol exchanges a code for a session of the device and the prefix of its tags. */
export async function enrol(code: string, id: string): Promise<{ session: Session; prefix: string }> {
  const answer = await ask("/v1/sign-in", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ code: code.trim(), device: { id, name: deviceName() } }),
  });
  const got = (await answer.json()) as Signed;
  const session: Session = {
    access: got.access,
    until: Date.now() + got.expires_in * 1000,
    refresh: got.refresh,
    person: got.person,
    institution: typeof got.institution === "string" ? { id: got.institution, name: got.institution } : got.institution,
  };
  return { session, prefix: got.device.tag_prefix };
}

/** signIn exchanges a code for a session of this phone. */
export async function signIn(code: string): Promise<Session> {
  const dev = await device();
  const { session, prefix } = await enrol(code, dev.id);
  const tx = (await db()).transaction("one", "readwrite");
  const now = ((await tx.store.get("device")) as Device | undefined) ?? dev;
  await tx.store.put({ ...now, prefix: prefix || now.prefix }, "device");
  await tx.store.put(session, "session");
  await tx.done;
  return session;
}

function deviceName(): string {
  const kind = /iPhone|iPad|Android|Windows|Macintosh|Linux/.exec(navigator.userAgent)?.[0] ?? "browser";
  return `Field page on ${kind}`;
}

/** access returns a token that is good for the next minute, renewing it if need be. */
export async function access(force = false): Promise<string> {
  const s = await get("session");
  if (!s) throw new NetError("refused", "Sign in with the code that the museum gave you. Your finds wait on this phone.", 401);
  if (!force && s.until - Date.now() > 60_000) return s.access;
  const answer = await ask("/v1/token", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ refresh: s.refresh }),
  });
  const got = (await answer.json()) as { access: string; expires_in: number; refresh?: string };
  await set("session", { ...s, access: got.access, until: Date.now() + got.expires_in * 1000, refresh: got.refresh ?? s.refresh });
  return got.access;
}

/** authed asks with the token, and once more with a new one if it was too old. */
export async function authed(path: string, init: RequestInit = {}, wait?: number): Promise<Response> {
  const go = async (force: boolean): Promise<Response> => {
    const headers = new Headers(init.headers);
    headers.set("authorization", `Bearer ${await access(force)}`);
    return ask(path, { ...init, headers }, wait);
  };
  try {
    return await go(false);
  } catch (e) {
    if (e instanceof NetError && e.status === 401) return go(true);
    throw e;
  }
}
