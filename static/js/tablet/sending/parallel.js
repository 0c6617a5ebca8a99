// Works through lists where one failure must not keep the rest, or must stop it.
import { Offline, SignedOut, UpdateNeeded } from "../ask.js";

// One job or photo that will not go must not keep the others here: the first trouble is told when all were
// tried.
export class Trouble {
  async around(work) {
    try {
      await work();
    } catch (problem) {
      if (problem instanceof Offline || problem instanceof SignedOut || problem instanceof UpdateNeeded)
        throw problem;
      this.first ??= problem;
    }
  }

  raise() {
    if (this.first) throw this.first;
  }
}

// Works a list off, so many at once; where one fails the others end what they do, and nothing new is begun.
export async function inParallel(count, list, work) {
  const rest = [...list];
  const worker = async () => {
    try {
      while (rest.length) await work(rest.shift());
    } finally {
      rest.length = 0;
    }
  };
  const ends = await Promise.allSettled(Array.from({ length: count }, worker));
  const failed = ends.find((end) => end.status === "rejected");
  if (failed) throw failed.reason;
}
