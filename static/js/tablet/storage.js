// How much this browser lets us keep, and whether it promises not to clear it.

export async function askToStay() {
  try {
    return (await navigator.storage.persisted()) || (await navigator.storage.persist());
  } catch {
    return false;
  }
}

// { isPersistent, share, free } · share of what this browser lets us keep
export async function storageSpace() {
  try {
    const [{ usage, quota }, isPersistent] = [
      await navigator.storage.estimate(),
      await navigator.storage.persisted(),
    ];
    return { isPersistent, share: quota ? usage / quota : 0, free: quota - usage };
  } catch {
    return { isPersistent: false, share: 0, free: Infinity };
  }
}
