// The shapes of values, as the log keeps them. The names are those of the
// operation's fields; the core reads and writes the same ones.

export interface When { text?: string; earliest?: string; latest?: string; precision?: string; zone?: string; basis?: string }
export interface Fix { lat: number; lon: number; accuracy_m?: number; level?: number; at?: string; source?: string }
export interface Place {
  lat?: number; lon?: number; known?: boolean; datum?: string; radius_m?: number;
  terms?: { name: string; m: number; why?: string }[]; protocol?: string; source?: string;
  state?: string; county?: string; flags?: string[];
}
export interface Taxon { written?: string; name?: string; certainty?: string; basis?: string }
export interface Photo { sha256: string; size: number; type: string; caption?: string; at?: string }

/** Fields of a report, by the names of the log. */
export interface Fields {
  fieldno?: string; salvager?: string; found?: When; taken_at?: When; fix?: Fix; coordinates?: string;
  locality?: string; place?: Place; taxon?: Taxon; count?: number; material?: string;
  condition?: { decay?: number }; circumstance?: string;
  cause?: { cause?: string; basis?: string; certainty?: string };
  signs?: Record<string, string | number>; band?: string;
  land?: { permission?: string; manager?: string; by?: string; written?: boolean };
  deed?: string; authority?: string; frozen?: { at: When; where?: string };
}

/** What is being typed. It is kept after every touch, so that a dead battery loses nothing. */
export interface Draft extends Fields {
  id: string;
  begun: number;
  now: boolean; // the find is now; the time is taken when it is saved
  english?: string;
  placeLabel?: string; // county and state, for people
  group?: boolean;
  decaySaid?: boolean;
  inHand?: boolean;
  photos: string[];
  remark?: string;
  state?: string;
  county?: string;
  freezer?: string;
  marked?: Record<string, string>; // lines of the checklist that were said not to hold
  facts: Record<string, string>; // answers to what the verdict asked back
}

/** One choice of a vocabulary. */
export interface Word { code: string; label: string }

/** A problem of the core: a kind for the program, a sentence for the person. */
export interface Trouble { kind: string; sentence: string; pointer?: string }

/** the deeds a salvager can choose, in our order. */
export const deeds: { code: string; label: string; hint: string; inHand?: boolean }[] = [
  { code: "taken", label: "Bagged", hint: "Tag inside, one animal to a bag" },
  { code: "left", label: "Left in place", hint: "Only the record goes home" },
  { code: "agency", label: "Handed to an agency", hint: "They have it now" },
  { code: "taken", label: "Already in my hands", hint: "Picked up before the answer", inHand: true },
];

export const decays: { n: number; label: string; hint: string }[] = [
  { n: 0, label: "Just died", hint: "Warm or limp, eyes clear" },
  { n: 1, label: "Very fresh", hint: "No smell, feathers or fur firm" },
  { n: 2, label: "Starting to turn", hint: "Some smell, still firm" },
  { n: 3, label: "Far gone", hint: "Feathers or fur come off" },
  { n: 4, label: "Dried out", hint: "Mummy, or bones and skin" },
];
