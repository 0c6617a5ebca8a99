// Asks the server: every answer is one of ours or it is no answer (a hotel's sign-in page is not).
const PATIENCE_MS = 20_000;

export class Offline extends Error {}
export class SignedOut extends Error {}
export class UpdateNeeded extends Error {}

export async function ask(
  url,
  { method = "GET", body, headers = {}, csrf = "", patience = PATIENCE_MS } = {},
) {
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
