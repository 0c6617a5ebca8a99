// How much this browser lets us keep, and whether it promises not to clear it. Nothing here is ever waited
// for: a browser may put a question to the person first, or never answer at all.
const PATIENCE_MS = 400;
const UNKNOWN = { isPersistent: false, share: 0, free: Infinity };

export async function askToStay() {
  try {
    return (await navigator.storage.persisted()) || (await navigator.storage.persist());
  } catch {
    return false;
  }
}

// { isPersistent, share, free } · share of what this browser lets us keep
export function storageSpace() {
  const late = new Promise((told) => setTimeout(told, PATIENCE_MS, UNKNOWN));
  return Promise.race([asked(), late]);
}

async function asked() {
  try {
    const [{ usage, quota }, isPersistent] = await Promise.all([
      navigator.storage.estimate(),
      navigator.storage.persisted(),
    ]);
    return { isPersistent, share: quota ? usage / quota : 0, free: quota - usage };
  } catch {
    return UNKNOWN;
  }
}
