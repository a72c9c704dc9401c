// The way in for another machine: the code that the laptop shows.
import { post } from "./ask.js";

const form = document.getElementById("enter");
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const fault = await post("/code", { code: form.elements.code.value });
  if (fault === null) location.assign("/");
  else document.getElementById("fault").textContent = fault;
});
