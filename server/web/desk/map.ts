// The map of one place: point, circle and the borders nearby, all from this
// server. It replaces the still picture that the page brings along.
import * as L from "leaflet";

interface Outline {
  name: string;
  state?: boolean;
  lines: [number, number][][]; // longitude, latitude in degrees
}

const colour = (name: string): string => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

async function draw(box: HTMLElement): Promise<void> {
  const lat = Number(box.dataset["lat"]);
  const lon = Number(box.dataset["lon"]);
  const radius = Number(box.dataset["radius"] ?? "0");
  const answer = await fetch(`/data/lines?lat=${lat}&lon=${lon}&radius=${radius}`);
  if (!answer.ok) return; // the still picture stays
  const outlines = (await answer.json()) as Outline[];

  box.replaceChildren();
  const map = L.map(box, { attributionControl: false, scrollWheelZoom: false, zoomSnap: 0.5, minZoom: 6, maxZoom: 17 });
  for (const outline of outlines) {
    const lines = outline.lines.map((line) => line.map(([x, y]) => [y, x] as [number, number]));
    L.polyline(lines, { color: colour("--edge"), weight: outline.state ? 2.5 : 1.2, interactive: false }).addTo(map);
  }
  const circle = L.circle([lat, lon], { radius: Math.max(radius, 1), color: colour("--pine"), weight: 2, fillOpacity: 0.16 });
  circle.addTo(map);
  L.circleMarker([lat, lon], { radius: 4, color: colour("--pine"), fillOpacity: 1 }).addTo(map);
  L.control.scale({ imperial: true, metric: true }).addTo(map);
  map.fitBounds(L.latLng(lat, lon).toBounds(Math.max(20000, radius * 5)));
}

const box = document.getElementById("map");
if (box) void draw(box).catch(() => undefined);
