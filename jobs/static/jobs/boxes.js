// What stands in the boxes of a page of a record, as the payloads of its acts. A box is named by
// line, part, tank and side; what belongs to it carries its name with a word behind "~".

const STAGE = /^([^.]+)\.(\d+)(?:\.(\d+))?$/; // line.part, line.part.tank

export const nameOf = (box) => box.name.split("~")[0];

function isBox(box) {
  return box.closest(".ask") && box.name && !box.name.includes("~") && box.type !== "hidden";
}

// Name to the inputs that answer it: several for a choice.
export function named(form) {
  const found = new Map();
  for (const box of form ? form.elements : []) {
    if (isBox(box)) found.set(box.name, [...(found.get(box.name) || []), box]);
  }
  return found;
}

export function textOf(boxes) {
  const [box] = boxes;
  if (box.type === "radio") return (boxes.find((each) => each.checked) || { value: "" }).value;
  if (box.type === "checkbox") return box.checked ? box.value : "";
  return box.value.trim();
}

// what was typed whole goes before what is pressed beside it
const WHOLE = /^([<>]|[\d.,]+\s*(-|\u2013|to)\s*[\d.,]+)/;

function signed(text, sign) {
  return text && sign && sign.value && !WHOLE.test(text) ? `${sign.value} ${text}` : text;
}

// What stands in a box, with the sign that is pressed before it.
export const wholeOf = (form, name, boxes) => signed(textOf(boxes), form.elements[`${name}~sign`]);

function dilutionOf(form, name) {
  const box = form.elements[`${name}~dilution`];
  const text = box ? box.value.trim().replace(",", ".") : "";
  return text ? Number(text) : 1;
}

export function placeOf(name) {
  const [key, side = ""] = name.split(":");
  const part = STAGE.exec(key);
  return {
    line: part ? part[1] : key,
    stage: part ? Number(part[2]) : null,
    tank: part && part[3] ? Number(part[3]) : 0,
    side,
  };
}

// null where the dilution is none: figures wait until it can be read
export function payloadOf(form, name, boxes) {
  const dilution = dilutionOf(form, name);
  if (!(dilution >= 1 && dilution <= 10000)) return null;
  const unit = form.elements[`${name}~unit`];
  const sure = form.elements[`${name}~sure`];
  return {
    ...placeOf(name),
    text: wholeOf(form, name, boxes),
    unit: unit ? unit.value : "",
    dilution,
    confirmed: Boolean(sure && sure.checked),
  };
}

export function payloadsOf(form) {
  return [...named(form)].map(([name, boxes]) => payloadOf(form, name, boxes)).filter(Boolean);
}

export function versionOf(form, name) {
  const box = form.elements[`${name}~version`];
  return box ? Number(box.value) || 0 : 0;
}

export function putVersion(form, name, version) {
  const box = form.elements[`${name}~version`];
  if (box && version !== undefined) box.value = String(version);
}

// What was typed, put back into its box.
export function putText(boxes, text) {
  const [box] = boxes;
  if (box.type === "radio") for (const each of boxes) each.checked = each.value === text;
  else if (box.type === "checkbox") box.checked = text === box.value;
  else box.value = text;
}

export function labelOf(boxes) {
  const [box] = boxes;
  const legend = box.closest("fieldset")?.querySelector("legend");
  const label = legend || document.querySelector(`label[for="${CSS.escape(box.id)}"]`);
  return label ? label.textContent.trim().replace(/\s+/g, " ") : nameOf(box);
}
