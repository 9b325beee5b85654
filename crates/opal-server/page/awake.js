// Keeps the screen on while somebody works at the wheel, where the browser can.

/** Gives `stop()`; `hear(on)` is told whether the screen stays on. */
export function stayAwake(hear) {
  let lock = null;
  let wanted = true;
  const ask = async () => {
    if (!wanted || document.hidden || lock) return;
    try {
      const got = await navigator.wakeLock.request("screen");
      if (!wanted) return got.release();
      lock = got;
      lock.addEventListener("release", () => { lock = null; });
      hear(true);
    } catch {
      // Browsers offer this on secure addresses only, and not on an empty battery.
      hear(false);
    }
  };
  document.addEventListener("visibilitychange", ask);
  ask();
  return () => {
    wanted = false;
    document.removeEventListener("visibilitychange", ask);
    lock?.release();
  };
}
