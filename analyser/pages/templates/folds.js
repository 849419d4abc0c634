"use strict";
// What is folded opens when it is asked for: by a link of the index, by the page's address, and for printing.
(() => {
  const unfold = (element) => {
    for (let fold = element; fold; fold = fold.parentElement?.closest("details")) {
      if (fold.tagName === "DETAILS") fold.open = true;
    }
  };

  const goTo = (hash) => {
    const target = hash.length > 1 && document.getElementById(decodeURIComponent(hash.slice(1)));
    if (!target) return;
    unfold(target.closest("details") || target.querySelector("details"));
    target.scrollIntoView();
  };

  document.addEventListener("click", (event) => {
    const link = event.target.closest('a[href^="#"]');
    if (link) setTimeout(() => goTo(link.hash), 0);
  });
  window.addEventListener("hashchange", () => goTo(location.hash));
  if (location.hash) goTo(location.hash);

  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details[data-print]:not([open])")];
    for (const fold of opened) fold.open = true;
  });
  window.addEventListener("afterprint", () => { for (const fold of opened) fold.open = false; });
})();
