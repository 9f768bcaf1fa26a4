// Photos are made smaller on this phone before they are sent: the long side 1,600 dots, without
// place and camera. Without this file, or where the phone cannot, the form sends them as they are.
"use strict";

const LONG_SIDE = 1600;
const QUALITY = 0.8;

async function smaller(file) {
  const whole = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONG_SIDE / Math.max(whole.width, whole.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(whole.width * scale));
  canvas.height = Math.max(1, Math.round(whole.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(whole, 0, 0, canvas.width, canvas.height);
  whole.close();
  return new Promise((done, failed) => {
    canvas.toBlob((blob) => (blob ? done(blob) : failed(new Error("no picture"))), "image/jpeg", QUALITY);
  });
}

async function sumOf(blob) {
  const digest = await crypto.subtle.digest("SHA-256", await blob.arrayBuffer());
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// The answer of the door: "" when the bytes are kept, else the sentence to show.
async function put(form, uuid, blob) {
  let answer;
  try {
    answer = await fetch(form.dataset.door.replace(/[0-9a-f-]{36}$/, uuid), {
      method: "PUT",
      body: blob,
      redirect: "manual",
      headers: {
        "Content-Type": "image/jpeg",
        "X-SHA-256": await sumOf(blob),
        "X-CSRFToken": form.querySelector("[name=csrfmiddlewaretoken]").value,
      },
    });
  } catch {
    return "Not sent: no connection. It is still chosen here; press the button again.";
  }
  if (answer.ok) return "";
  if (answer.type === "opaqueredirect") return "Not sent: you are signed out. Sign in on another page first.";
  const said = await answer.json().catch(() => ({}));
  return said.error || "Not sent: the office did not take it. Press the button again.";
}

function watch(form) {
  const boxes = [...form.querySelectorAll("input[type=file]")];
  const said = form.querySelector("[data-photos-said]");
  const sent = new Map();
  const chosen = () => boxes.flatMap((box) => [...box.files]);

  async function send(file) {
    if (sent.has(file)) return "";
    let blob;
    try {
      blob = await smaller(file);
    } catch {
      return "This picture cannot be read. Use the camera button.";
    }
    const uuid = crypto.randomUUID();
    const refused = await put(form, uuid, blob);
    if (!refused) sent.set(file, uuid);
    return refused;
  }

  function goOn() {
    for (const uuid of sent.values()) {
      const named = document.createElement("input");
      named.type = "hidden";
      named.name = "sent";
      named.value = uuid;
      form.append(named);
    }
    for (const box of boxes) box.value = "";
    form.submit();
  }

  for (const box of boxes) {
    box.addEventListener("change", () => {
      const count = chosen().length;
      said.textContent = count ? `${count} chosen. They are made smaller on this phone and sent with the button.` : "";
    });
  }

  form.addEventListener("submit", async (event) => {
    const files = chosen();
    if (!files.length) return;
    event.preventDefault();
    const button = form.querySelector("button[type=submit]");
    button.disabled = true;
    const refused = [];
    for (const [at, file] of files.entries()) {
      said.textContent = `Sending ${at + 1} of ${files.length}.`;
      const why = await send(file);
      if (why) refused.push(`${file.name}: ${why}`);
    }
    button.disabled = false;
    if (refused.length) said.textContent = refused.join(" ");
    else goOn();
  });
}

const photosForm = document.getElementById("photos-form");
if (photosForm && window.createImageBitmap && window.crypto && crypto.subtle && crypto.randomUUID) {
  watch(photosForm);
}
