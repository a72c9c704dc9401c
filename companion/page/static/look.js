// Light or dark: as the system has it, until it is chosen here.

const KEY = "look";
const asked = matchMedia("(prefers-color-scheme: dark)");

function isDark() {
  const chosen = document.documentElement.dataset.look;
  return chosen ? chosen === "dark" : asked.matches;
}

/** Take what was chosen before. */
export function startLook() {
  const kept = localStorage.getItem(KEY);
  if (kept === "dark" || kept === "light") document.documentElement.dataset.look = kept;
}

/** Change it; tells whether it is dark now. */
export function changeLook() {
  const look = isDark() ? "light" : "dark";
  document.documentElement.dataset.look = look;
  localStorage.setItem(KEY, look);
  return look === "dark";
}

/** What the button says: what pressing it brings. */
export function lookWords() {
  return isDark() ? "Light" : "Dark room";
}
