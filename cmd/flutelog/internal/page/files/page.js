// Keeps the page of an inspection up to date, and sends its forms without leaving it. Without this script the
// page works by its forms alone.
"use strict";
(() => {
  const at = (id) => document.getElementById(id);

  // Keys on the page write into the field beside them: those of a PIN, and those of a reading where a telephone's own would
  // hide what is asked.
  function pad(keys, field) {
    keys.hidden = false;
    keys.onclick = (event) => {
      const key = event.target.closest("[data-key]")?.dataset.key;
      if (!key || !field()) return;
      const to = field();
      if (key === "back") to.value = to.value.slice(0, -1);
      else if (key === "Clear") to.value = "";
      else to.value += key === "minus" ? "-" : key;
      to.dispatchEvent(new Event("input", { bubbles: true }));
    };
  }
  if (at("pad")) pad(at("pad"), () => at("pin"));

  const main = document.querySelector("main[data-state]");
  if (!main) return;
  const here = "typed " + main.dataset.id;
  let source, changed = 0;

  // What is typed and not taken yet is kept over a page that is loaded again, with the question that it answers.
  const reading = () => at("reading");
  function keepTyped() {
    const field = reading();
    if (!field) return;
    if (field.value && !field.dataset.sent) sessionStorage.setItem(here, JSON.stringify([field.value, field.dataset.ticket]));
    else sessionStorage.removeItem(here);
  }
  function putTyped(value, ticket) {
    const field = reading();
    if (!field) return;
    field.value = value;
    field.dataset.ticket = ticket;
    const of = document.querySelector("#entry input[name=of]");
    if (of) of.value = ticket; // it never answers another question
  }
  document.addEventListener("input", (event) => {
    if (event.target !== reading()) return;
    delete event.target.dataset.sent;
    keepTyped();
  });

  // replace puts a part in. The keyboard stays in it where it was: on the same control, else where the next answer
  // goes, else on the question. What is typed stays typed.
  function replace(id, html) {
    const part = at(id), active = document.activeElement, inside = part.contains(active), held = active?.id;
    const made = document.createElement("template");
    made.innerHTML = html;
    const first = made.content.querySelector("[autofocus]");
    first?.removeAttribute("autofocus");
    let typed = id === "entry" && reading()?.value && !reading().dataset.sent ? [reading().value, reading().dataset.ticket] : null;
    if (typed && reading().dataset.next) { // typed while the answer before it was on its way: of the next question, if there is one
      const refused = made.content.querySelector("#refused:not([hidden])");
      typed = refused ? null : [typed[0], made.content.querySelector("#reading")?.dataset.ticket];
    }
    const turned = id === "picture" ? part.querySelector(".turn")?.dataset.turn : null;
    const opened = part.querySelector("details[open]") !== null;
    part.replaceChildren(made.content);
    if (typed) putTyped(...typed);
    if (opened && inside) part.querySelector("details")?.setAttribute("open", "");
    if (inside) ((held && at(held)) || first || at("question"))?.focus();
    if (id === "picture") turn(part.querySelector(".turn"), turned);
    if (id === "entry" || id === "picture") showKeys();
  }

  // turn shows the picture turning from where it was, where motion is not unwanted.
  function turn(picture, from) {
    if (!picture || from === null || from === undefined || matchMedia("(prefers-reduced-motion: reduce)").matches) return;
    const by = ((Number(from) - Number(picture.dataset.turn) + 540) % 360) - 180;
    if (by) picture.animate([{ rotate: by + "deg" }, { rotate: "0deg" }], { duration: 200 });
  }

  // After a refusal a telephone shows keys of the page's own in place of the picture.
  function showKeys() {
    const keys = at("keys"), refused = at("refused");
    if (!keys) return;
    const need = Boolean(refused && !refused.hidden && reading());
    pad(keys, reading);
    keys.hidden = !need;
    at("picture").classList.toggle("with-keys", need);
    const field = reading();
    if (field && need && matchMedia("(pointer: coarse)").matches) field.inputMode = "none";
  }

  function say(line) {
    const item = document.createElement("p");
    item.textContent = line.text;
    const said = at("said");
    said.append(item);
    while (said.children.length > 60) said.firstChild.remove();
    if (line.recorded) bell();
  }

  let audio;
  document.addEventListener("pointerdown", () => { audio ??= new AudioContext(); }, { once: true });
  function bell() {
    if (localStorage.getItem("bell") === "no") return;
    if (!audio) return; // nobody has touched the page yet
    navigator.vibrate?.(30);
    const tone = audio.createOscillator(), loudness = audio.createGain();
    tone.frequency.value = 880;
    loudness.gain.value = 0.2;
    loudness.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + 0.25);
    tone.connect(loudness).connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + 0.25);
  }

  function trouble(text, more) {
    const box = document.createElement("div"), head = document.createElement("span"), rest = document.createElement("p");
    box.className = "refusal";
    head.textContent = text;
    rest.textContent = more;
    box.append(head, rest);
    return box;
  }

  // follow opens the stream: a page just loaded shows what happened up to its number; one that was cut off was told
  // up to one.
  let away = null;
  function follow(from) {
    source = new EventSource("/stream?" + new URLSearchParams({ id: main.dataset.id, state: main.dataset.state, ...from }));
    source.onopen = () => {
      if (away) at("connection").replaceChildren();
      away = null;
    };
    source.onmessage = (event) => {
      from = { told: event.lastEventId };
      const update = JSON.parse(event.data);
      const was = document.querySelector("#entry input[name=of], #below input[name=of]")?.value;
      for (const [id, html] of Object.entries(update.parts)) if (at(id)) replace(id, html);
      if (was !== document.querySelector("#entry input[name=of], #below input[name=of]")?.value) changed = Date.now();
      for (const line of update.said ?? []) say(line);
    };
    source.addEventListener("reload", () => {
      source.close();
      keepTyped();
      location.reload();
    });
    source.onerror = () => {
      if (!away) {
        away = new Date();
        const since = away.toTimeString().slice(0, 5);
        at("connection").replaceChildren(trouble("Not connected since " + since, "Do not read: it would not be kept. What was read is safe. This page tries again by itself."));
      }
      if (source.readyState === EventSource.CLOSED) setTimeout(() => follow(from), 2000);
    };
  }

  // refuse shows why something was not taken, at the field.
  function refuse(text) {
    const box = at("refused");
    if (box) {
      box.textContent = text;
      box.hidden = !text;
    } else if (text) {
      at("connection").replaceChildren(trouble(text, ""));
    }
    showKeys();
  }

  // giveBack puts what was not taken back into its field, unless something else was typed there since.
  function giveBack(fields, asked) {
    const field = reading();
    if (!field || field.value || !fields.has("reading")) return;
    delete field.dataset.next;
    delete field.dataset.sent;
    const ticket = document.querySelector("#below input[name=of]")?.value;
    putTyped(fields.get("reading"), (asked && ticket) || fields.get("of"));
    keepTyped();
  }

  async function post(path, fields) {
    let answer;
    try {
      answer = await fetch(path, { method: "POST", headers: { "X-Live": "1" }, body: fields });
    } catch {
      giveBack(fields);
      refuse("Not recorded: the recorder does not answer. What you typed stays here.");
      return;
    }
    if (answer.ok) {
      if (source.readyState === EventSource.CLOSED || path.endsWith("/stop")) location.assign(path.endsWith("/stop") ? "/" : location.href); // nothing else would show it
      return;
    }
    if (answer.headers.has("X-Sign-In")) {
      giveBack(fields);
      location.assign("/sign-in?then=" + encodeURIComponent(location.pathname + location.search));
      return;
    }
    giveBack(fields, answer.status === 409); // that question is gone: what was typed waits for a second word
    refuse(await answer.text());
  }

  // Forms are sent one after another, each as it was when it was sent; the same one twice in a row only once. A second
  // press of a finger within 400 ms of a new question was meant for the one before.
  let sent = Promise.resolve(), last = "", pressed = 0;
  document.addEventListener("click", (event) => { pressed = event.detail; }, true);
  document.addEventListener("submit", (event) => {
    const form = event.target, button = event.submitter;
    if (!form.matches("form.followed")) return;
    event.preventDefault();
    const name = form.getAttribute("id"); // its field of that name stands before its own
    const touched = pressed > 0;
    pressed = 0;
    if (touched && Date.now() - changed < 400) return;
    const path = button?.hasAttribute("formaction") ? button.formAction : form.action;
    const fields = new URLSearchParams(new FormData(form, button));
    const key = path + "?" + fields;
    if (key === last) return;
    last = key;
    if (name === "answer") {
      if (!reading()?.value.trim()) { last = ""; return; }
      reading().value = "";
      reading().dataset.next = "yes";
      sessionStorage.removeItem(here);
    }
    if (name === "noting") at("note").value = "";
    sent = sent.then(() => post(path, fields)).then(() => { if (last === key) last = ""; });
  });

  // A tooth of the picture is the tooth of the row.
  document.addEventListener("click", (event) => {
    const tooth = event.target.closest?.("#picture a.tooth");
    if (!tooth) return;
    const key = decodeURIComponent(tooth.getAttribute("href").split("#")[1] ?? "").replaceAll("-", " ");
    for (const button of document.querySelectorAll("#teeth button")) {
      if (button.value.replaceAll("-", " ") !== key) continue;
      event.preventDefault();
      button.click();
    }
  });

  const sound = at("sound");
  if (sound) {
    sound.closest("label").hidden = false;
    sound.checked = localStorage.getItem("bell") !== "no";
    sound.addEventListener("change", () => localStorage.setItem("bell", sound.checked ? "yes" : "no"));
  }
  const typed = JSON.parse(sessionStorage.getItem(here) ?? "null");
  if (typed && reading() && !reading().value) {
    putTyped(...typed);
    reading().focus();
  } else if (typed && at("watched")) { // another device took it over in the middle of a number
    const kept = document.createElement("p");
    kept.textContent = "You had typed " + typed[0] + ": it was not recorded, and is kept here.";
    at("watched").prepend(kept);
  }
  showKeys();
  follow({ at: main.dataset.at });
})();
