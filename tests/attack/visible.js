// What is in a fold, and what is for screen readers alone (.aside), is left out. Returns what of the musts of a page a reader would not see as it is written, a line each. `screen`: also what lies over it.
(screen) => {
  const MUSTS = ".caution, .recall, .actions, .gate, .dose, .phone, .care h3, .step h3, .standing, .mark, .line, .must";
  const channels = (colour) => {
    const numbers = (colour.match(/-?[\d.]+(?:e-?\d+)?/g) || []).map(Number);
    const [red, green, blue, alpha] = colour.startsWith("color(") ? numbers.slice(0, 3).map((one) => one * 255).concat(numbers[3]) : numbers;
    return [red, green, blue, alpha === undefined ? 1 : alpha];
  };
  const luminance = (colour) => {
    const [red, green, blue] = colour.map((part) => part / 255).map((part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4);
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  };
  const contrast = (one, other) => {
    const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a);
    return (light + 0.05) / (dark + 0.05);
  };
  const above = (element) => element ? [element, ...above(element.parentElement)] : [];
  const ground = (element) => {
    for (const each of above(element)) {
      const colour = channels(getComputedStyle(each).backgroundColor);
      if (colour[3] === 1) return colour;
    }
    return [255, 255, 255, 1];
  };
  const hidden = (text, element) => {
    const range = document.createRange();
    range.selectNodeContents(text);
    const box = range.getBoundingClientRect();
    const look = getComputedStyle(element);
    if (box.width < 1 || box.height < 4) return "has no room";
    if (look.visibility !== "visible") return "is hidden";
    if (look.textDecorationLine.includes("line-through")) return "is struck through";
    if (look.unicodeBidi.includes("override")) return "is set in another direction";
    if (parseFloat(look.fontSize) < 9) return "is too small";
    const ink = channels(look.webkitTextFillColor || look.color);
    if (ink[3] < 1 || contrast(ink, ground(element)) < 4.5) return "has too little contrast";
    for (const each of above(element)) {
      const style = getComputedStyle(each);
      if (style.display === "none" || style.contentVisibility === "hidden") return "is not displayed";
      if (Number(style.opacity) < 1) return "is transparent";
      if (style.clipPath !== "none" || style.maskImage !== "none" || style.filter !== "none") return "is clipped or masked";
      if (style.mixBlendMode !== "normal") return "is blended with its ground";
      if (style.rotate !== "none" || style.scale !== "none" || /matrix\((?!1, 0, 0, 1,)/.test(style.transform)) return "is turned";
      if (style.animationName !== "none") return "is animated";
      if (each !== document.body && each !== document.documentElement && style.backgroundImage !== "none") return "lies on a picture";
      if (style.flexDirection.endsWith("reverse")) return "stands in another order";
      const around = each.getBoundingClientRect();
      if (/hidden|clip/.test(style.overflowX + style.overflowY) && each !== document.body && each !== document.documentElement &&
          (box.right > around.right + 2 || box.bottom > around.bottom + 2 || box.left < around.left - 2)) return "is cut off";
      for (const lid of ["::before", "::after"]) {
        const said = getComputedStyle(each, lid).content;
        if (each.matches(MUSTS + ", :is(" + MUSTS + ") *") && /["'][^"']*[\p{L}\p{N}][^"']*["']/u.test(said)) return "has words of a style beside it";
      }
    }
    if (box.left < -1 || (screen && box.right > document.documentElement.clientWidth + 2)) return "stands outside the page";
    if (!screen) return "";
    element.scrollIntoView({ block: "center" });
    const now = range.getClientRects()[0];
    const top = document.elementFromPoint(now.left + Math.min(now.width / 2, 20), now.top + now.height / 2);
    return top && (top === element || element.contains(top) || top.contains(element) && getComputedStyle(top).display === "inline") ? "" : "is covered";
  };
  const found = [];
  const walk = document.createTreeWalker(document.querySelector("main") || document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode, element = text.parentElement;
    if (!text.data.trim() || !element.closest(MUSTS) || element.closest("details, script, style, svg, [hidden], .aside")) continue;
    const what = hidden(text, element);
    if (what) found.push(text.data.trim().slice(0, 50) + " " + what);
  }
  return found;
}
