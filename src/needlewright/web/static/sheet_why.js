// "Why" and pictures open beside the sheet; without this script they are pages of their own.

export function answerWhy(sheet) {
  const aside = document.getElementById("aside");
  const content = aside.querySelector(".aside-content");
  const title = aside.querySelector(".aside-title");
  let asked = null;

  document.addEventListener("click", (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
    const why = event.target.closest("a[data-why]");
    const look = event.target.closest("a[data-look]");
    if (!why && !look) return;
    event.preventDefault();
    asked = why ?? look;
    if (why) answer(why.href);
    else picture(look);
  });

  aside.addEventListener("close", () => {
    content.replaceChildren();
    name(null);
    if (asked?.isConnected) asked.focus({ preventScroll: true });
  });
  aside.addEventListener("click", (event) => {
    if (event.target === aside) aside.close();
  });

  async function answer(address) {
    const page = await fetch(address, { headers: { Accept: "text/html" }, credentials: "same-origin" });
    const found = new DOMParser().parseFromString(await page.text(), "text/html").getElementById("why");
    if (!page.ok || !found) {
      location.assign(address);
      return;
    }
    const shown = document.importNode(found, true);
    shown.removeAttribute("id");
    name(shown.querySelector("h1"));
    content.replaceChildren(shown);
    open();
    const part = new URL(address).hash.slice(1);
    const section = part && content.querySelector(`#${CSS.escape(part)}`);
    section?.classList.add("asked");
    // What the needle shows comes first, under the picture it was read in: both are seen.
    if (section !== content.querySelector("section")) section?.scrollIntoView({ block: "start" });
  }

  // The heading stays beside the way out, however far down one reads.
  function name(heading) {
    title.replaceChildren(...(heading ? [heading] : []));
  }

  function picture(link) {
    const image = document.createElement("img");
    image.className = "whole";
    image.src = link.href;
    image.alt = link.querySelector("img")?.alt ?? "";
    name(null);
    content.replaceChildren(image);
    open();
  }

  function open() {
    if (!aside.open) aside.showModal();
    aside.scrollTop = 0;
  }
}
