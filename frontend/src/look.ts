/** Light or dark, before the page is painted: as this browser was told last, else as the system prefers. */

const told = (() => {
  try {
    return localStorage.getItem("trysquare-look");
  } catch {
    return null;
  }
})();
if (told === "light" || told === "dark") document.documentElement.dataset.look = told;
