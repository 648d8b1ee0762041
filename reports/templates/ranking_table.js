/* The ranking, sorted by any column and filtered by words and price; the values are those of the table's file. */
(() => {
  "use strict";

  const { rows: values, price, words } = JSON.parse(document.getElementById("ranking-data").textContent);
  const table = document.querySelector("#ranking-section table");
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const fill = (form, given) => form.replace(/\{(\w+)\}/g, (whole, key) => given[key] ?? whole);

  function made(name, properties, ...children) {
    const element = Object.assign(document.createElement(name), properties);
    element.append(...children);
    return element;
  }

  const said = made("p", { id: "ranking-said" });
  said.setAttribute("role", "status");
  const search = made("input", { type: "search", id: "ranking-words", autocomplete: "off" });
  const most = made("input", { type: "number", id: "ranking-price", min: "0", step: "any", autocomplete: "off" });
  const all = made("button", { type: "button", id: "ranking-all", textContent: words.all });

  /* Numbers by their values, words as they stand in the language of the page; what is missing comes last. */
  function compared(a, b, column) {
    const [one, other] = [values[a][column], values[b][column]];
    if (typeof one === "number" && typeof other === "number") return one - other;
    if (one === null || other === null) return (one === null) - (other === null);
    const [first, second] = [a, b].map((place) => rows[place].cells[column].textContent);
    return first.localeCompare(second, document.documentElement.lang);
  }

  function sort(heading, column) {
    const ascending = heading.getAttribute("aria-sort") !== "ascending";
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", ascending ? "ascending" : "descending");
    const order = rows.map((row, place) => place);
    order.sort((a, b) => (ascending ? 1 : -1) * compared(a, b, column) || a - b);
    body.append(...order.map((place) => rows[place]));
    const order_said = ascending ? words.ascending : words.descending;
    said.textContent = `${fill(words.sorted, { column: heading.textContent, order: order_said })} ${count()}`;
  }

  const count = () => fill(words.shown, { shown: rows.filter((row) => !row.hidden).length, all: rows.length });

  function filter() {
    const wanted = search.value.toLowerCase().split(/\s+/).filter(Boolean);
    const limit = most.value.trim() === "" ? Infinity : Number(most.value);
    rows.forEach((row, place) => {
      const text = row.textContent.toLowerCase();
      row.hidden = !(wanted.every((word) => text.includes(word)) && values[place][price] <= limit);
    });
    said.textContent = count();
  }

  [...table.tHead.rows[0].cells].forEach((heading, column) => {
    const button = made("button", { type: "button", className: "sort", textContent: heading.textContent });
    button.addEventListener("click", () => sort(heading, column));
    heading.replaceChildren(button);
  });
  table.tHead.rows[0].cells[0].setAttribute("aria-sort", "ascending");
  search.addEventListener("input", filter);
  most.addEventListener("input", filter);
  all.addEventListener("click", () => {
    search.value = "";
    most.value = "";
    filter();
  });
  const tools = made(
    "div", { className: "table-tools" },
    made("label", { className: "words", htmlFor: "ranking-words" }, words.filter, search),
    made("label", { className: "price", htmlFor: "ranking-price" }, words.price, most),
    all, said,
  );
  table.closest(".scroll").before(tools);
})();
