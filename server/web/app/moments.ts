// Times as a person reads them: the month in letters, the day first.

import type { When } from "./words";

const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

const two = (n: number): string => String(n).padStart(2, "0");

/** zone writes the phone's offset from UTC at that moment, "-04:00". */
export function zone(ms: number): string {
  const away = -new Date(ms).getTimezoneOffset();
  const size = Math.abs(away);
  return `${away < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

/** civil writes a moment in the phone's own time, "2026-10-18T14:02". */
export function civil(ms: number): string {
  const d = new Date(ms);
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}T${two(d.getHours())}:${two(d.getMinutes())}`;
}

/** spoken writes "18 Oct 2026, 14:02" from a civil time, or the day alone. */
export function spoken(civilTime: string): string {
  const m = /^(\d{4})-(\d{2})-(\d{2})(?:T(\d{2}:\d{2}))?/.exec(civilTime);
  if (!m) return civilTime;
  const day = `${Number(m[3])} ${months[Number(m[2]) - 1] ?? "?"} ${m[1]}`;
  return m[4] ? `${day}, ${m[4]}` : day;
}

/** minute makes the When of a moment by the phone's clock. */
export function minute(ms: number): When {
  const at = civil(ms);
  return { earliest: at, latest: at, precision: "minute", zone: zone(ms), basis: "phone clock" };
}

/** typed makes the When of a moment that a person chose. */
export function typed(civilTime: string): When {
  const at = civilTime.slice(0, 16);
  return { text: civilTime, earliest: at, latest: at, precision: "minute", zone: zone(new Date(at).getTime()), basis: "typed" };
}
