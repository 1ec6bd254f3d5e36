// The field page starts: first what is on the phone, then the network.

import { start } from "./core";
import { h } from "./dom";
import { loadDraft } from "./draft";
import { device } from "./session";
import { forsake, hasLost } from "./shares";
import { bar, go, here, redraw, say, show } from "./shell";
import { get, tally } from "./store";
import { keepSending, loadKit, loadTowns, onStatus, send, status } from "./sync";
import { watchVersions } from "./update";
import { offer, offered, trySignIn } from "./screens/sending";
import "./screens/start";
import "./screens/where";
import "./screens/what";
import "./screens/lies";
import "./screens/verdict";
import "./screens/deed";
import "./screens/find";

async function open(): Promise<void> {
  await start();
  if (hasLost(await device())) await forsake();
  await loadKit().catch((e: unknown) => console.error("rules", e));
  await loadDraft();
  Object.assign(status, await tally(), { stray: (await get("stray")) ?? "" });
}

/** invited signs in with a code handed over in the address, and removes it from there. */
async function invited(): Promise<void> {
  const code = /^#code=(.+)$/.exec(location.hash)?.[1];
  if (!code) return;
  history.replaceState(null, "", location.pathname);
  offer(decodeURIComponent(code));
  const told = await trySignIn(offered());
  if (told) say(told);
  else offer("");
}

// Screens that show what was sent are drawn again when that changes; the others
// only get a new bar, so that nothing moves under a finger.
function follow(): void {
  const live = ["start", "sending", "saved", "find"].includes(here());
  if (live && !document.querySelector("#page input:focus, #page textarea:focus, #page details[open]")) void redraw();
  else bar();
}

async function run(): Promise<void> {
  try {
    await open();
  } catch (e) {
    console.error(e);
    document.getElementById("page")?.replaceChildren(h("h1", {}, "The page did not load whole"),
      h("p", { class: "lede" }, "Nothing that was saved is lost. Open it again; if this stays, open it once with a network."),
      h("div", { class: "row" }, h("button", { type: "button", class: "go", onclick: () => location.reload() }, "Open again")));
    return;
  }
  addEventListener("hashchange", () => void (location.hash.startsWith("#code=") ? invited().then(() => go("start")) : show()));
  await invited();
  await show();
  onStatus(follow);
  keepSending();
  void send();
  void loadTowns().catch((e: unknown) => console.error("towns", e));
  void navigator.storage?.persist?.().catch(() => false);
  void watchVersions(() => follow()).catch((e: unknown) => console.error("worker", e));
  document.documentElement.dataset["ready"] = "yes";
}

void run();
