// What the page asks of the server: JSON there, JSON back.

/** Get JSON; throws an Error with the server's own words. */
export async function get(path, query = {}) {
  const said = Object.entries(query).filter(([, value]) => value !== null && value !== undefined && value !== "");
  const answer = await fetch(said.length ? `${path}?${new URLSearchParams(said)}` : path);
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.fault ?? `the server answered ${answer.status}`);
  return told;
}

/** Send JSON; null when it was taken, else what was wrong. */
export async function post(path, what = {}) {
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(what),
    });
    if (answer.ok) return null;
    const told = await answer.json().catch(() => ({}));
    return told.fault ?? `the server answered ${answer.status}`;
  } catch {
    return "the companion can't be reached";
  }
}

/** Send JSON, and get JSON back; throws an Error with the server's own words. */
export async function ask(path, what = {}) {
  const answer = await fetch(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(what),
  });
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Error(told.fault ?? `the server answered ${answer.status}`);
  return told;
}
