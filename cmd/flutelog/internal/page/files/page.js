// Keeps the page of an inspection up to date, and sends its forms without leaving it. Without this script the
// page works by its forms alone.
"use strict";
(() => {
  const main = document.querySelector("main[data-state]");
  if (!main) return;
  const at = (id) => document.getElementById(id);
  let source;

  // replace puts a part in. The keyboard stays in it where it was: on the same control, else where the next answer
  // goes, else on the question.
  function replace(id, html) {
    const part = at(id), active = document.activeElement, inside = part.contains(active), held = active?.id;
    const made = document.createElement("template");
    made.innerHTML = html;
    const first = made.content.querySelector("[autofocus]");
    first?.removeAttribute("autofocus");
    part.replaceChildren(made.content);
    if (inside) ((held && at(held)) || first || at("question"))?.focus();
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

  // follow opens the stream: a page just loaded shows what happened up to its number; one that was cut off was told
  // up to one.
  function follow(from) {
    source = new EventSource("/stream?" + new URLSearchParams({ id: main.dataset.id, state: main.dataset.state, ...from }));
    source.onopen = () => { at("connection").textContent = ""; };
    source.onmessage = (event) => {
      from = { told: event.lastEventId };
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

  async function post(path, fields) {
    const refusal = at("refusal");
    try {
      const answer = await fetch(path, { method: "POST", headers: { "X-Live": "1" }, body: fields });
      refusal.textContent = answer.ok ? "" : await answer.text();
      if (answer.ok && source.readyState === EventSource.CLOSED) location.reload(); // nothing else would show it
    } catch {
      refusal.textContent = "NOT DONE: the recorder does not answer.";
    }
  }

  // Forms are sent one after another, each as it was when it was sent; the same one twice in a row only once.
  let sent = Promise.resolve(), last = "";
  document.addEventListener("submit", (event) => {
    const form = event.target, button = event.submitter;
    if (!form.matches("form.followed")) return;
    event.preventDefault();
    const path = button?.hasAttribute("formaction") ? button.formAction : form.action;
    const fields = new URLSearchParams(new FormData(form, button));
    const key = path + "?" + fields;
    if (key === last) return;
    last = key;
    sent = sent.then(() => post(path, fields)).then(() => { if (last === key) last = ""; });
  });

  if (at("sound")) {
    at("sound").closest("label").hidden = false;
    at("sound").addEventListener("change", () => { audio ??= new AudioContext(); });
  }
  follow({ at: main.dataset.at });
})();
