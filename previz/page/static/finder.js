// Going to a lamp by its name: a few letters, or its number, and Enter.

import { byId, freshId, made } from "./dom.js";

export class Finder {
  /** `go` takes a lamp's number, `master` goes to all of them. */
  constructor(store, go, master) {
    this.store = store;
    this.go = go;
    this.master = master;
    this.box = byId("goto");
    this.box.setAttribute("aria-label", "Go to a lamp");
    this.at = 0;
    const list = freshId("found");
    this.list = made("ul", { id: list, class: "found", role: "listbox", "aria-label": "Lamps" });
    this.field = made("input", { type: "text", class: "wide", autocomplete: "off", spellcheck: "false", role: "combobox",
      "aria-label": "Lamp, by name or number", "aria-controls": list, "aria-expanded": "true", "aria-autocomplete": "list",
      oninput: () => this.show(0), onkeydown: (event) => this.heard(event) });
    this.box.replaceChildren(made("form", { onsubmit: (event) => {
      event.preventDefault();
      this.take(this.found[this.at]);
    } }, this.field, this.list), made("form", { method: "dialog", class: "row" }, made("button", {}, "Close")));
  }

  open() {
    this.field.value = "";
    this.box.showModal();
    this.field.focus();
    this.show(0);
  }

  heard(event) {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || !this.found.length) return;
    event.preventDefault();
    this.show((this.at + step + this.found.length) % this.found.length);
  }

  /** Names that begin with what was written come first, then those that have it in them. */
  show(at) {
    const wish = this.field.value.trim().toLowerCase();
    const all = [...this.store.lamps.map((lamp, i) => ({ name: lamp.name, number: i + 1 })), { name: "Master", number: 0 }];
    const rank = ({ name, number }) => {
      const low = name.toLowerCase();
      if (String(number) === wish) return 0;
      return low.startsWith(wish) ? 1 : low.includes(` ${wish}`) ? 2 : low.includes(wish) ? 3 : 4;
    };
    this.found = all.filter((each) => rank(each) < 4).sort((a, b) => rank(a) - rank(b) || (a.number || 1e3) - (b.number || 1e3));
    this.at = at;
    const items = this.found.map((each, i) => made("li", { role: "option", id: freshId("lamp-found"),
      "aria-selected": String(i === at), onclick: () => this.take(each) },
    made("span", { class: "count" }, each.number ? String(each.number) : ""), each.name));
    this.list.replaceChildren(...items);
    const chosen = items[at];
    chosen?.scrollIntoView({ block: "nearest" });
    this.field.setAttribute("aria-activedescendant", chosen?.id ?? "");
  }

  take(found) {
    if (!found) return;
    this.box.close();
    if (found.number) this.go(found.number);
    else this.master();
  }
}
