// Four short sounds of our own, made by an oscillator, and a buzz for each.
// They only ever come with words on the screen.
let audio;

const tapped = () => navigator.userActivation?.hasBeenActive ?? true;

// wake must run inside a tap: browsers keep sound off until then.
export function wake() {
  if (!tapped()) return;
  try {
    audio ??= new AudioContext();
    if (audio.state !== "running") audio.resume();
  } catch { /* a browser without sound stays silent */ }
}

function tone(from, to, seconds, delay = 0) {
  if (!audio || audio.state !== "running") return;
  const at = audio.currentTime + delay;
  const voice = audio.createOscillator();
  const loud = audio.createGain();
  voice.frequency.setValueAtTime(from, at);
  voice.frequency.linearRampToValueAtTime(to, at + seconds);
  loud.gain.setValueAtTime(0.2, at);
  loud.gain.linearRampToValueAtTime(0, at + seconds);
  voice.connect(loud).connect(audio.destination);
  voice.start(at);
  voice.stop(at + seconds);
}

const buzz = (pattern) => { if (tapped()) navigator.vibrate?.(pattern); };

export function logged() { tone(520, 880, 0.12); buzz(40); }
export function refused() { tone(440, 220, 0.16); tone(440, 220, 0.16, 0.24); buzz([120, 80, 120]); }
export function turned() { tone(660, 660, 0.1); tone(880, 880, 0.1, 0.14); tone(660, 660, 0.16, 0.28); buzz([40, 60, 40, 60, 200]); }
export function switchOff() { tone(110, 110, 0.35); buzz([30, 40, 30]); }
