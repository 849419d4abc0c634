// Show it: the debrief in steps, one idea each, for a projector.
(() => {
  const start = (dialog) => {
    const steps = [...dialog.querySelectorAll(".step")];
    const where = dialog.querySelector(".where");
    let now = 0;
    const go = (to) => {
      now = Math.min(steps.length - 1, Math.max(0, to));
      steps.forEach((step, i) => { step.hidden = i !== now; });
      where.textContent = `${now + 1} of ${steps.length}`;
      steps[now].querySelector("h2").focus({ preventScroll: true });
    };
    const moves = { ArrowRight: 1, ArrowDown: 1, PageDown: 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1 };
    dialog.addEventListener("keydown", (event) => {
      if (event.altKey || event.ctrlKey || event.metaKey) return;
      if (event.key in moves) go(now + moves[event.key]);
      else if (event.key === " " && event.target.tagName !== "BUTTON") go(now + 1);
      else if (event.key === "Home") go(0);
      else if (event.key === "End") go(steps.length - 1);
      else return;
      event.preventDefault();
    });
    for (const button of dialog.querySelectorAll("[data-step]")) {
      button.addEventListener("click", () => { if (button.dataset.step === "end") dialog.close(); else go(now + Number(button.dataset.step)); });
    }
    return () => { dialog.showModal(); go(0); };
  };

  for (const dialog of document.querySelectorAll("dialog.show")) {
    const show = start(dialog);
    for (const button of document.querySelectorAll(`[data-show="${dialog.id.slice(5)}"]`)) button.addEventListener("click", show);
  }
})();
