// What every page's scripts share: texts, and sending with the form's token.

const texts = JSON.parse(document.getElementById("texts").textContent);

// A text of the groups the page names, with its values put in.
export function text(name, values = {}) {
  let found = texts[name];
  if (typeof found === "object") found = values.n === 1 ? found.one : found.many;
  return found.replace(/\{(\w+)[^}]*\}/g, (_, key) => String(values[key]));
}

// What came back wrong: `what`, `where`, `do` as the page's errors have them.
export class Refused extends Error {
  constructor(status, wrong) {
    super([wrong.where, wrong.what].filter(Boolean).join(": ") + (wrong.do ? `; ${wrong.do}` : ""));
    this.status = status;
    this.wrong = wrong;
  }
}

// Sends a form (FormData, URLSearchParams) or a value as JSON; gives what the page answers.
export async function send(address, { method = "POST", form, json } = {}) {
  const headers = { Accept: "application/json", "X-Form-Token": token() };
  let body = form;
  if (json !== undefined) {
    headers["Content-Type"] = "application/json";
    body = JSON.stringify(json);
  }
  let answer;
  try {
    answer = await fetch(address, { method, headers, body, credentials: "same-origin" });
  } catch {
    throw new Refused(0, { what: text("base.no_answer"), where: "", do: "" });
  }
  const said = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    throw new Refused(answer.status, said.error ?? { what: text("base.no_answer"), where: "", do: "" });
  }
  return said;
}

function token() {
  return document.querySelector('meta[name="form-token"]').content;
}
