// A random UUID (version 4, RFC 9562). crypto.randomUUID is missing on plain
// HTTP, getRandomValues is not.
export function uuid(random = (b) => crypto.getRandomValues(b)) {
  const b = random(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const h = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return `${h.slice(0, 8)}-${h.slice(8, 12)}-${h.slice(12, 16)}-${h.slice(16, 20)}-${h.slice(20)}`;
}
