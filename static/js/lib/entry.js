// What a form says, as an entry of the API. Only the fields of an entry are
// taken; empty ones are left out, so that form and script send the same thing.
const texts = ["kind", "seen", "what", "where", "sign", "key", "basis", "because", "of", "on", "for", "place", "why", "opening", "to", "photo", "text", "entry"];
const numbers = ["pct", "extent_pct", "grams", "flush"];

export function entryOf(fields, id) {
  const entry = { id };
  for (const name of [...texts, ...numbers]) {
    const value = (fields.get(name) ?? "").trim();
    if (value === "") continue;
    const number = Number(value.replace(",", "."));
    entry[name] = texts.includes(name) || Number.isNaN(number) ? value : number; // the farm says what is no number
  }
  const oz = fields.get("ounces"), g = oz?.replace(",", ".") * 2834.9523125;
  if (oz) entry.grams = g >= 0 ? Math.round(g) / 100 : oz;
  const bare = fields.getAll("bare");
  if (bare.length > 0) entry.bare = bare;
  const [key, value] = (fields.get("set") ?? "").split("=");
  if (value !== undefined) Object.assign(entry, { key, value });
  if (fields.has("value")) entry.value = fields.get("value") || null;
  if (fields.get("full") === "false" && entry.pct === undefined) entry.full = false;
  if (fields.get("bench") === "true") entry.bench = true;
  return entry;
}

// clock is the time of day as the log shows it.
export function clock(at) {
  const [h, m] = [at.getHours(), `${at.getMinutes()}`.padStart(2, "0")];
  if (document.documentElement.dataset.clock) return `${h % 12 || 12}:${m} ${h < 12 ? "am" : "pm"}`;
  return `${h}`.padStart(2, "0") + ":" + m;
}

// age is how long something has waited, in words.
export function age(ms, none = "just now") {
  const min = Math.floor(ms / 60000);
  if (min < 1) return none;
  if (min < 120) return `${min} min`;
  const hours = Math.floor(min / 60);
  return hours < 48 ? `${hours} h` : `${Math.floor(hours / 24)} days`;
}
