// Hands on a plot: a tap sets a marker, a drag enlarges or moves, two fingers or the wheel enlarge.
// The same can be done by keys once the plot has the focus, and by the buttons beside it.

const STAYED_PX = 8; // a press that moved less is a tap
const WHEEL = 1.2;

// on : {tap(x, y), select(x0, x1), selecting(x0, x1 | null), pan(dx), zoom(factor, x), hover(x, y | null),
//       canPan(), wheelNeedsCtrl()}; all in px from the plot's left.
export function handsOn(element, on) {
  const fingers = new Map();
  let start = null; // {x, y, moved}
  let spread = 0;
  const place = (event) => {
    const box = element.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    fingers.set(event.pointerId, place(event));
    element.setPointerCapture?.(event.pointerId);
    start = fingers.size === 1 ? { ...place(event), moved: false } : null;
    spread = fingers.size === 2 ? apart(fingers) : 0;
    if (fingers.size === 2) on.selecting(null);
  });
  element.addEventListener("pointermove", (event) => {
    const now = place(event);
    if (!fingers.has(event.pointerId)) {
      on.hover(now.x, now.y);
      return;
    }
    const before = fingers.get(event.pointerId);
    fingers.set(event.pointerId, now);
    if (fingers.size === 2) {
      const wide = apart(fingers);
      const [a, b] = fingers.values();
      if (spread > 0 && wide > 0) on.zoom(wide / spread, (a.x + b.x) / 2);
      spread = wide;
      return;
    }
    if (start === null) return;
    start.moved ||= Math.hypot(now.x - start.x, now.y - start.y) > STAYED_PX;
    if (!start.moved) return;
    if (on.canPan()) on.pan(now.x - before.x, now.y - before.y);
    else on.selecting(start.x, now.x);
  });
  const ended = (event, counts) => {
    const at = fingers.get(event.pointerId);
    if (!fingers.delete(event.pointerId) || start === null) return;
    const { x, y, moved } = start;
    start = null;
    on.selecting(null);
    if (!counts) return;
    if (!moved) on.tap(x, y);
    else if (!on.canPan() && Math.abs(at.x - x) > 2 * STAYED_PX) on.select(x, at.x);
  };
  element.addEventListener("pointerup", (event) => ended(event, true));
  element.addEventListener("pointercancel", (event) => ended(event, false));
  element.addEventListener("pointerleave", () => on.hover(null));
  element.addEventListener(
    "wheel",
    (event) => {
      if (on.wheelNeedsCtrl() && !event.ctrlKey) return;
      event.preventDefault();
      on.zoom(event.deltaY < 0 ? WHEEL : 1 / WHEEL, place(event).x);
    },
    { passive: false },
  );
}

function apart(fingers) {
  const [a, b] = fingers.values();
  return Math.hypot(a.x - b.x, a.y - b.y);
}
