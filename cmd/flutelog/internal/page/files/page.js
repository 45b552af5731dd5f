// Keeps the page of an inspection up to date, and sends its forms without leaving it. Without this script the
// page works by its forms alone.
"use strict";
(() => {
  const main = document.querySelector("main[data-state]");
  if (!main) return;
  const at = (id) => document.getElementById(id);
  let source;

  // replace puts a part in, and keeps the keyboard where it was: on the same control, else on the question.
  function replace(id, html) {
    const part = at(id), active = document.activeElement;
    const held = part.contains(active) ? active.id : null;
    const open = part.querySelector("details[open]") !== null && held;
    part.innerHTML = html;
    if (held === null) return;
    if (open && part.querySelector("details")) part.querySelector("details").open = true;
    (held && at(held) || at("question"))?.focus();
  }

  function say(line) {
    const item = document.createElement("li");
    item.textContent = line.text;
    const said = at("said");
    said.prepend(item);
    while (said.children.length > 60) said.lastChild.remove();
    if (line.recorded) bell();
  }

  let audio;
  function bell() {
    if (!at("sound").checked || !audio) return;
    const tone = audio.createOscillator(), loudness = audio.createGain();
    tone.frequency.value = 880;
    loudness.gain.value = 0.2;
    loudness.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + 0.25);
    tone.connect(loudness).connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + 0.25);
  }

  function follow(from) {
    source = new EventSource("/stream?" + new URLSearchParams({ id: main.dataset.id, state: main.dataset.state, at: from }));
    source.onopen = () => { at("connection").textContent = ""; };
    source.onmessage = (event) => {
      from = event.lastEventId;
      const update = JSON.parse(event.data);
      for (const [id, html] of Object.entries(update.parts)) replace(id, html);
      for (const line of update.said ?? []) say(line);
    };
    source.addEventListener("reload", () => { source.close(); location.reload(); });
    source.onerror = () => {
      at("connection").textContent = "The recorder does not answer. What you see may be old; trying again.";
      if (source.readyState === EventSource.CLOSED) setTimeout(() => follow(from), 2000);
    };
  }

  async function send(form, button) {
    const path = button?.hasAttribute("formaction") ? button.formAction : form.action;
    const refusal = at("refusal");
    try {
      const answer = await fetch(path, { method: "POST", headers: { "X-Live": "1" }, body: new URLSearchParams(new FormData(form, button)) });
      refusal.textContent = answer.ok ? "" : await answer.text();
      if (answer.ok && form.id === "answer") at("reading")?.form === form && (at("reading").value = "");
      if (answer.ok && source.readyState !== EventSource.OPEN) location.reload();
    } catch {
      refusal.textContent = "NOT DONE: the recorder does not answer.";
    }
  }

  let sending = false;
  document.addEventListener("submit", async (event) => {
    if (!event.target.matches("form.followed")) return;
    event.preventDefault();
    if (sending) return;
    sending = true;
    await send(event.target, event.submitter);
    sending = false;
  });

  if (at("sound")) {
    at("sound").closest("label").hidden = false;
    at("sound").addEventListener("change", () => { audio ??= new AudioContext(); });
  }
  follow(main.dataset.at);
})();
