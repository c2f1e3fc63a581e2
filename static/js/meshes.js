// A design file on its way to the PC: how much of it is sent; what is refused is said here, and the file stays chosen.

for (const form of document.querySelectorAll("form[data-most]")) form.addEventListener("submit", send);

function send(event) {
  event.preventDefault();
  const form = event.target, file = form.elements.file.files[0];
  const button = form.querySelector("button"), bar = form.querySelector("progress"), line = form.querySelector("[data-words]");
  const words = JSON.parse(line.dataset.words);
  if (!file || button.getAttribute("aria-disabled") === "true") return;
  if (file.size > Number(form.dataset.most)) {
    say(line, words.large, true);
    return;
  }
  const request = new XMLHttpRequest();
  const end = (text) => {
    bar.hidden = true;
    button.setAttribute("aria-disabled", "false");
    say(line, text, true);
  };
  request.upload.addEventListener("progress", (sent) => {
    if (!sent.lengthComputable) return;
    const part = Math.floor(100 * sent.loaded / sent.total);
    bar.value = part;
    if (part % 10 === 0) say(line, part < 100 ? words.sends.replace("{done}", part) : words.reads, false);
  });
  request.addEventListener("error", () => end(words.cut));
  request.addEventListener("load", () => {
    const answer = told(request.responseText);
    if (request.status === 200 && answer.to) location.assign(answer.to);
    else end(answer.error || words.cut);
  });
  button.setAttribute("aria-disabled", "true");
  bar.hidden = false;
  bar.value = 0;
  say(line, words.sends.replace("{done}", 0), false);
  request.open("POST", location.pathname);
  request.setRequestHeader("Accept", "application/json");
  request.send(new FormData(form));
}

function told(text) {
  try {
    return JSON.parse(text);
  } catch {
    return {};
  }
}

function say(line, text, fault) {
  if (line.textContent !== text) line.textContent = text;
  line.classList.toggle("faults", fault);
}
