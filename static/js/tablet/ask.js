// Asks the server: every answer is one of ours or it is no answer (a hotel's sign-in page is not).
const PATIENCE_MS = 20_000;
// A server that has its hands full names some seconds: so often it is asked again, before that is trouble.
const MOST_TURNS = 20;
const LONGEST_TURN_S = 10;

export class Offline extends Error {}
export class SignedOut extends Error {}
export class UpdateNeeded extends Error {}

export async function ask(url, options) {
  let waited = 0; // [ms]
  for (let turn = 1; ; turn += 1) {
    const answer = await askOnce(url, options);
    const again = Number(answer.headers.get("Retry-After") ?? 0);
    const isTurn = answer.status === 503 && again > 0 && again <= LONGEST_TURN_S;
    if (!isTurn || turn === MOST_TURNS) return { ...answer, waited };
    const wait = again * 1000 * (0.5 + Math.random());
    await new Promise((done) => setTimeout(done, wait));
    waited += wait;
  }
}

async function askOnce(url, { method = "GET", body, headers = {}, csrf = "", patience = PATIENCE_MS } = {}) {
  const isData = body !== undefined && !(body instanceof Blob);
  let answer;
  try {
    answer = await fetch(url, {
      method,
      body: isData ? JSON.stringify(body) : body,
      headers: {
        Accept: "application/json",
        ...(isData ? { "Content-Type": "application/json" } : {}),
        ...(csrf ? { "X-CSRFToken": csrf } : {}),
        ...headers,
      },
      cache: "no-store",
      redirect: "error",
      credentials: "same-origin",
      signal: AbortSignal.timeout(patience),
    });
  } catch (problem) {
    throw new Offline(String(problem));
  }
  if (answer.status === 401) throw new SignedOut();
  if (answer.status === 426) throw new UpdateNeeded((await data(answer)).error);
  return { status: answer.status, ok: answer.ok, headers: answer.headers, data: await data(answer) };
}

async function data(answer) {
  if (!(answer.headers.get("Content-Type") ?? "").includes("json")) return {};
  try {
    return await answer.json();
  } catch (problem) {
    throw new Offline(String(problem)); // cut off on the way
  }
}
