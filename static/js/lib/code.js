// Reads a label's code as it is typed or as a hand-held scanner sends it, and
// checks its last character (ISO/IEC 7064, MOD 37,36), so that a misread code
// never becomes another bag's while the farm cannot be asked.
const value = (c) => parseInt(c, 36);

// codeOf gives the eight characters, "" where they are none.
export function codeOf(text) {
  const plain = text.toUpperCase().replace(/[^0-9A-Z]/g, "").slice(-8).replace(/[IL]/g, "1").replace(/O/g, "0");
  if (plain.length < 8 || plain.includes("U")) return "";
  let p = 36;
  for (const c of plain.slice(0, 7)) {
    const s = (p + value(c)) % 36 || 36;
    p = (s * 2) % 37;
  }
  return (p + value(plain[7])) % 36 === 1 ? plain : "";
}

export const spaced = (code) => `${code.slice(0, 4)}-${code.slice(4)}`;
