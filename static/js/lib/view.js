// intoView brings what the last act did onto the screen, at once and no further
// than it must; the field that has the focus keeps it.
export function intoView(box) {
  box.querySelector("[data-echo], [data-waits], .note[role], section[role], .tag, .says")?.scrollIntoView({ block: "nearest", behavior: "instant" });
}
