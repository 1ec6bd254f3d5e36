// Talking to the server over a road's network: slow, absent, or not the
// network it says it is.

export type Gone = "offline" | "portal" | "refused" | "server";

/** NetError says why nothing came back, and what a person can do. */
export class NetError extends Error {
  constructor(readonly gone: Gone, message: string, readonly status = 0, readonly body: unknown = undefined) {
    super(message);
  }
}

const ours = ["application/json", "application/problem+json", "application/x-ndjson", "application/ndjson"];

/** ask sends one request and returns an answer that truly is the server's. */
export async function ask(path: string, init: RequestInit = {}, wait = 20_000): Promise<Response> {
  const stop = AbortSignal.timeout(wait);
  let answer: Response;
  try {
    answer = await fetch(path, { ...init, cache: "no-store", credentials: "omit", redirect: "follow", signal: stop });
  } catch {
    throw new NetError("offline", "No answer from the server. Everything stays on this phone and is sent later.");
  }
  const type = answer.headers.get("content-type") ?? "";
  const empty = answer.status === 204 || answer.status === 304;
  const elsewhere = answer.redirected && new URL(answer.url).origin !== location.origin;
  if (elsewhere || (answer.ok && !empty && !ours.some((t) => type.startsWith(t)))) {
    throw new NetError("portal", "This network answers in the server's place. Open its sign-in page, or leave the network, then send again.");
  }
  if (answer.ok || answer.status === 304) return answer;
  const body: unknown = await answer.json().catch(() => undefined);
  const told = problem(body);
  if (answer.status >= 500 || !told) throw new NetError("server", "The server is not well just now. Everything stays on this phone.", answer.status, body);
  throw new NetError("refused", told, answer.status, body);
}

function problem(body: unknown): string {
  if (!body || typeof body !== "object") return "";
  const { title, detail } = body as { title?: unknown; detail?: unknown };
  const told = [detail, title].find((t): t is string => typeof t === "string" && t !== "") ?? "";
  return told && told[0]!.toUpperCase() + told.slice(1) + (/[.!?]$/.test(told) ? "" : ".");
}
