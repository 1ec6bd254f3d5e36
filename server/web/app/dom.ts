// Building pages by hand: one function makes an element, one draws the shape
// that stands beside every state, so that no state is told by colour alone.

export type Kid = Node | string | number | null | undefined | false | Kid[];
type Props = Record<string, unknown>;

function put(el: Element, kids: Kid[]): void {
  for (const kid of kids) {
    if (kid === null || kid === undefined || kid === false) continue;
    if (Array.isArray(kid)) put(el, kid);
    else el.append(kid instanceof Node ? kid : String(kid));
  }
}

function dress(el: Element, props: Props): void {
  for (const [key, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on") && typeof value === "function") {
      el.addEventListener(key.slice(2), value as EventListener);
    } else if (key === "value" && "value" in el) {
      (el as HTMLInputElement).value = String(value);
    } else {
      el.setAttribute(key, value === true ? "" : String(value));
    }
  }
}

/** h makes an element with attributes, "on…" listeners and children. */
export function h<K extends keyof HTMLElementTagNameMap>(tag: K, props: Props = {}, ...kids: Kid[]): HTMLElementTagNameMap[K] {
  const el = document.createElement(tag);
  put(el, kids);
  dress(el, props);
  return el;
}

const svgNS = "http://www.w3.org/2000/svg";

function s(tag: string, props: Props, ...kids: Kid[]): SVGElement {
  const el = document.createElementNS(svgNS, tag);
  dress(el, props);
  put(el, kids);
  return el;
}

export type Mark = "take" | "ask" | "stop" | "note" | "wait" | "sent";

/** mark draws the shape of a state. It is decoration: the word stands beside it. */
export function mark(kind: Mark, size = 46): SVGElement {
  const inner: Record<Mark, SVGElement[]> = {
    take: [s("circle", { cx: 23, cy: 23, r: 21 }), s("path", { d: "M13 24l7 7 13-15", class: "cut" })],
    ask: [s("path", { d: "M23 2l21 21-21 21L2 23z" }), s("path", { d: "M18 18a5.4 5.4 0 1 1 7.4 5c-1.6.7-2.4 1.6-2.4 3.6M23 32.5v.2", class: "cut thin" })],
    stop: [s("path", { d: "M15 3h16l12 12v16L31 43H15L3 31V15z" }), s("path", { d: "M15 15l16 16M31 15L15 31", class: "cut" })],
    note: [s("rect", { x: 5, y: 5, width: 36, height: 36, rx: 5 }), s("path", { d: "M23 20v12M23 14v.2", class: "cut" })],
    wait: [s("circle", { cx: 23, cy: 23, r: 19, class: "hollow" }), s("path", { d: "M23 12v12l7 5", class: "line" })],
    sent: [s("path", { d: "M7 24l11 11 21-24", class: "line" })],
  };
  return s("svg", { viewBox: "0 0 46 46", width: size, height: size, class: `mark ${kind}`, "aria-hidden": "true" }, ...inner[kind]);
}

/** carcass draws the state of a body, 0 (just died) to 4 (dried out). */
export function carcass(decay: number): SVGElement {
  const body = "M8 30c2-10 12-15 22-13 4-6 10-7 13-4l5 3-5 2c-1 12-12 18-22 16-6-1-9-3-13-1z";
  const full = [
    s("path", { d: body, class: decay < 3 ? "fill" : decay === 3 ? "dash" : "bare" }),
    decay < 2 && s("circle", { cx: 41, cy: 15, r: 1.8, class: "cut-dot" }),
    decay >= 1 && decay < 4 && s("path", { d: "M20 24c4 3 8 3 12 0", class: "cut thin" }),
    decay >= 2 && s("path", { d: "M14 12c-2-3 2-4 0-7M22 10c-2-3 2-4 0-7", class: "line thin" }),
    decay >= 3 && s("path", { d: "M18 30l-3 8M26 32l-1 8M22 22l-8-3M30 21l2 9", class: "line thin" }),
  ];
  return s("svg", { viewBox: "0 0 52 42", width: 60, height: 48, class: "body", "aria-hidden": "true" }, full);
}

/** circle draws a place as what it is: a point and the circle that holds it. */
export function circle(radius: number): SVGElement {
  const r = Math.max(5, Math.min(30, 6 + 8 * Math.log10(Math.max(1, radius))));
  return s("svg", { viewBox: "0 0 64 64", width: 64, height: 64, class: "spot", "aria-hidden": "true" },
    s("circle", { cx: 32, cy: 32, r, class: "ring" }), s("circle", { cx: 32, cy: 32, r: 3.5, class: "dot" }));
}
