// How long ago something was tapped, where the phone's clocks disagree: it was
// set, the phone slept (its steady clock may stand still then), or the page was
// left. The farm's clock, known at the tap and now, decides.
const PATIENCE = 4000;
const CLOSE = 10000; // milliseconds by which the farm's clock may seem off: the way there and back

// farmSkew is the farm's clock less the phone's; it throws where there is no answer.
export async function farmSkew() {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE);
  try {
    const answer = await fetch("/healthz", { signal: stop.signal });
    return Date.parse((await answer.json()).now) - Date.now();
  } finally {
    clearTimeout(timer);
  }
}

// elapsed is in milliseconds; mono is NaN where the page of the tap is gone.
export function elapsed(item, wall, mono, skew) {
  const steady = !Number.isNaN(mono);
  if (item.skew === undefined || Number.isNaN(skew)) return Math.max(steady ? mono : 0, wall);
  const far = wall + skew - item.skew;
  if (!steady) return Math.max(0, Math.abs(far - wall) < CLOSE ? wall : far);
  return Math.abs(far - wall) < Math.abs(far - mono) ? wall : mono;
}
