// Where the phone thinks it is. The best reading of the last minute wins; the
// number it gives for its error is kept as it was given.

import type { Fix } from "./words";

export interface Reading { fix?: Fix; trouble?: string; waiting: boolean }

/** Watch follows the device's position and tells a listener about it. */
export class Watch {
  private id: number | undefined;
  private best: { fix: Fix; at: number } | undefined;
  reading: Reading = { waiting: true };

  constructor(private readonly tell: (r: Reading) => void) {}

  start(): void {
    if (this.id !== undefined) return;
    if (!("geolocation" in navigator)) {
      this.say({ waiting: false, trouble: "This phone does not tell its position. Type the coordinates or describe the place." });
      return;
    }
    this.id = navigator.geolocation.watchPosition((p) => this.took(p), (e) => this.failed(e), {
      enableHighAccuracy: true, maximumAge: 10_000, timeout: 20_000,
    });
  }

  stop(): void {
    if (this.id !== undefined) navigator.geolocation.clearWatch(this.id);
    this.id = undefined;
  }

  /** again forgets what was found and starts over. */
  again(): void {
    this.stop();
    this.best = undefined;
    this.say({ waiting: true });
    this.start();
  }

  private took(p: GeolocationPosition): void {
    const fix: Fix = {
      lat: Number(p.coords.latitude.toFixed(6)),
      lon: Number(p.coords.longitude.toFixed(6)),
      accuracy_m: Number(p.coords.accuracy.toFixed(1)),
      level: 0.95, // W3C Geolocation: accuracy is a 95 % confidence level
      at: new Date(p.timestamp).toISOString(),
      source: "device",
    };
    const stale = !this.best || p.timestamp - this.best.at > 60_000;
    if (stale || (fix.accuracy_m ?? Infinity) <= (this.best?.fix.accuracy_m ?? Infinity)) {
      this.best = { fix, at: p.timestamp };
    }
    this.say({ waiting: false, fix: this.best?.fix ?? fix });
  }

  private failed(e: GeolocationPositionError): void {
    if (this.best) return;
    const trouble = e.code === e.PERMISSION_DENIED
      ? "This page may not ask for the position. Allow it in the browser's settings, or type the coordinates."
      : "No position yet. Stand in the open, or type the coordinates.";
    this.say({ waiting: e.code === e.TIMEOUT, trouble });
  }

  private say(r: Reading): void {
    this.reading = r;
    this.tell(r);
  }
}
