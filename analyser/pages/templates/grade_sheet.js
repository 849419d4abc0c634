/* The grade sheet: pilot first, then instructor; a remark below standard; saved as a small file. */
(function () {
  "use strict";
  for (const form of document.querySelectorAll("form.sheet")) start(form);

  function start(form) {
    const about = JSON.parse(form.dataset.sheet);
    const rows = Array.from(form.querySelectorAll("tr[data-item]"), (row) => ({
      about: about.items.find((item) => item.key === row.dataset.item),
      proposed: row.querySelector(".proposed"),
      own: row.querySelector('[name="own"]'),
      other: row.querySelector('[name="other"]'),
      required: row.querySelector('[name="required"]'),
      remark: row.querySelector('[name="remark"]'),
    }));
    const field = (name) => form.querySelector(`.sheet-names [name="${name}"]`);
    const alone = form.querySelector('[name="alone"]');
    const said = form.querySelector(".sheet-said");
    const scale = () => about.scales.find((one) => one.key === field("scale").value);
    const place = (key) => scale().levels.findIndex((level) => level.key === key);

    function judged() { return rows.filter((row) => row.about.points !== null); }

    // The pilot's own grades stand before the instructor's can be given: else they would be copied.
    function open() {
      const first = !alone.checked && judged().some((row) => !row.own.value);
      for (const row of rows) row.other.disabled = first;
      for (const row of rows) row.own.disabled = alone.checked;
    }

    // Written out with their wordings for every item the lists would be a tenth of the page.
    function fill() {
      const levels = scale().levels;
      for (const row of rows) {
        for (const list of [row.own, row.other, row.required]) {
          const options = levels.map((level) => {
            const option = new Option(level.title, level.key);
            option.title = level.wording;
            return option;
          });
          list.replaceChildren(new Option("", ""), ...options);
        }
        row.required.value = scale().required;
        const key = row.about.proposed[scale().key];
        if (key !== null) row.proposed.textContent = levels[place(key)].title;
      }
    }

    function rescale() {
      fill();
      said.textContent = "Another scale: grades given on the other one were taken away.";
      open();
    }

    // What is typed in survives a reload of this tab, and is gone with the tab: names are not left on the machine.
    const draft = `grade sheet ${about.log_sha256} ${about.hold}`;
    let unsaved = false;

    function keepDraft() {
      unsaved = true;
      const values = Array.from(form.elements, (one) => (one.type === "checkbox" ? one.checked : one.value));
      try { sessionStorage.setItem(draft, JSON.stringify(values)); } catch { /* no storage: leaving still asks */ }
    }

    function takeDraft() {
      let values = null;
      try { values = JSON.parse(sessionStorage.getItem(draft)); } catch { /* none, or not to be read */ }
      if (!Array.isArray(values) || values.length !== form.elements.length) return;
      const list = field("scale");
      const put = () => Array.from(form.elements).forEach((one, place) => {
        if (one.type === "checkbox") one.checked = values[place]; else if (one.tagName !== "BUTTON") one.value = values[place];
      });
      const before = list.value;
      put();
      if (list.value !== before) { rescale(); put(); }
      unsaved = true;
      const fold = form.closest("details");
      if (fold) fold.open = true;
      said.textContent = "What was typed in before the page was loaded again is here; it is not saved as a file yet.";
      rows.forEach((row) => grow(row.remark));
      open();
    }

    // Boxes cut what is longer than they are; on paper, which is signed, its text stands in their place, whole.
    const boxes = Array.from(form.querySelectorAll('select, textarea, input:not([type="checkbox"])'));
    for (const box of boxes) box.insertAdjacentHTML("afterend", '<span class="on-paper" aria-hidden="true"></span>');

    function toPaper() {
      // As an attribute: a label's words name its box, and what is typed in is no part of them.
      for (const box of boxes) box.nextElementSibling.dataset.said = (box.selectedOptions ? box.selectedOptions[0]?.text : box.value) ?? "";
    }

    function grow(text) {
      text.style.height = "auto";
      text.style.height = `${text.scrollHeight + 2}px`;
    }

    function below(row) {
      const given = row.other.value || row.own.value;
      return given && row.required.value && place(given) < place(row.required.value);
    }

    function faults() {
      const found = [];
      const add = (element, words) => found.push({ element, words });
      if (!rows.some((row) => row.own.value || row.other.value)) add(rows[0].own, "No grade is given yet.");
      if (rows.some((row) => row.own.value) && !field("pilot").value.trim()) add(field("pilot"), "The pilot's name is missing.");
      if (rows.some((row) => row.other.value) && !field("instructor").value.trim()) add(field("instructor"), "The instructor's name is missing.");
      for (const row of rows) {
        if (below(row) && !row.remark.value.trim()) add(row.remark, `${row.about.title} is below the grade asked for: say why in a remark.`);
      }
      return found;
    }

    function save() {
      for (const element of form.querySelectorAll("[aria-invalid]")) element.removeAttribute("aria-invalid");
      const found = faults();
      if (found.length) {
        for (const one of found) one.element.setAttribute("aria-invalid", "true");
        said.textContent = found.map((one) => one.words).join(" ");
        found[0].element.focus();
        return;
      }
      const stem = about.log_name.replace(/\.[^.]*$/, "").replace(/[^\p{L}\p{N}_-]+/gu, "_") || "log";
      const name = `${stem}-hold${about.hold}-grades.json`;
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([JSON.stringify(sheet(), null, 1) + "\n"], { type: "application/json" }));
      link.download = name;
      document.body.append(link);
      link.click();
      link.remove();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
      unsaved = false;
      said.textContent = `Saved as ${name}. Put it into the logbook with: analyser grade ${name}`;
    }

    function sheet() {
      const text = (name) => field(name).value.trim();
      return {
        kind: about.kind, schema: about.schema, log_sha256: about.log_sha256, log_name: about.log_name, hold: about.hold,
        scale: scale().key, levels: scale().levels.map((level) => level.key),
        date: text("date"), saved_utc: new Date().toISOString().replace(/\.\d+Z$/, "Z"),
        pilot: text("pilot"), instructor: text("instructor"), device: text("device"), lesson: text("lesson"),
        items: rows.map((row) => ({
          item: row.about.key, computed_points: row.about.points, proposed: row.about.proposed[scale().key],
          pilot: row.own.value || null, instructor: row.other.value || null, required: row.required.value || null,
          remark: row.remark.value.trim(),
        })),
      };
    }

    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("change", (event) => { if (event.target === field("scale")) rescale(); else open(); keepDraft(); });
    form.addEventListener("input", (event) => { if (event.target.name === "remark") grow(event.target); keepDraft(); });
    for (const kind of ["change", "input"]) form.addEventListener(kind, toPaper);
    window.addEventListener("beforeprint", toPaper);
    window.addEventListener("beforeunload", (event) => { if (unsaved) event.preventDefault(); });
    form.querySelector('[data-do="save"]').addEventListener("click", save);
    fill();
    open();
    takeDraft();
    toPaper();
  }
})();
