// A chart brought by dropping a file anywhere on the page, or by choosing one.
import { el } from "./dom.js";

const SUFFIXES = ".musicxml,.mxl,.xml,.mid,.midi,.abc,.toml";
const LARGEST = 8 * 1024 * 1024; // bytes, as the server has it

/** Where a file is dropped; `brought` is told the name of the chart that came of it. */
export function dropPlace(page, brought) {
  const input = el("input", { type: "file", accept: SUFFIXES, "aria-label": "Bring a chart from a file" });
  const said = el("ul.said");
  const words = el("span", {}, "Bring a chart: drop a file here, or choose one");
  const kinds = el("small", {}, "MusicXML, MIDI, ABC, or a chart of the companion's own");
  const place = el("label.drop", {}, input, words, kinds);

  async function take(files) {
    for (const file of files) {
      const told = await bring(file);
      said.replaceChildren(...told.lines.map((text) => el("li", {}, text)));
      if (told.name) brought(told.name);
    }
    input.value = "";
  }

  input.addEventListener("change", () => take([...input.files]));
  page.element.addEventListener("dragover", (event) => {
    event.preventDefault();
    place.classList.add("over");
  });
  page.element.addEventListener("dragleave", () => place.classList.remove("over"));
  page.element.addEventListener("drop", (event) => {
    event.preventDefault();
    place.classList.remove("over");
    take([...event.dataTransfer.files]);
  });
  return el("div", {}, place, el("div", { role: "status" }, said));
}

async function bring(file) {
  if (file.size > LARGEST) return { lines: [`${file.name} is too large for a chart`] };
  try {
    const answer = await fetch(`/import?${new URLSearchParams({ name: file.name })}`, { method: "POST", body: file });
    const told = await answer.json().catch(() => ({}));
    if (!answer.ok) return { lines: [told.fault ?? `the server answered ${answer.status}`] };
    const lost = told.said.length ? "; this was assumed, or kept as a comment only:" : ", and nothing of it was lost";
    return { name: told.name, lines: [`${told.title} is among your tunes${lost}`, ...told.said] };
  } catch {
    return { lines: ["the companion can't be reached"] };
  }
}
