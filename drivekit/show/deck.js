// Right, left, space, page and home keys or a swipe turn the slides; n shows the notes, s the whole deck as a scroll.
(() => {
  const page = document.documentElement, slides = [...document.querySelectorAll(".slide")];
  let at = Math.max(0, slides.findIndex((slide) => `#${slide.id}` === location.hash)), touched = null;
  const turn = (to) => {
    at = Math.min(slides.length - 1, Math.max(0, to));
    slides.forEach((slide, place) => slide.classList.toggle("now", place === at));
    history.replaceState(null, "", `#${slides[at].id}`);
    if (!page.classList.contains("live")) slides[at].scrollIntoView();
  };
  const keys = {
    ArrowRight: () => turn(at + 1), ArrowDown: () => turn(at + 1), PageDown: () => turn(at + 1), " ": () => turn(at + 1),
    ArrowLeft: () => turn(at - 1), ArrowUp: () => turn(at - 1), PageUp: () => turn(at - 1),
    Home: () => turn(0), End: () => turn(slides.length - 1),
    n: () => page.classList.toggle("told"),
    s: () => { page.classList.toggle("live"); turn(at); },
  };
  addEventListener("keydown", (event) => {
    const does = keys[event.key];
    if (!does || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    does();
  });
  addEventListener("touchstart", (event) => { touched = event.changedTouches[0].clientX; }, { passive: true });
  addEventListener("touchend", (event) => {
    const moved = event.changedTouches[0].clientX - touched;
    if (page.classList.contains("live") && Math.abs(moved) > 40) turn(at + (moved < 0 ? 1 : -1));
  }, { passive: true });
  addEventListener("hashchange", () => turn(slides.findIndex((slide) => `#${slide.id}` === location.hash)));
  page.classList.add("live");
  turn(at);
})();
