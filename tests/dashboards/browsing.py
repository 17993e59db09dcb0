"""What a browser is asked about any page."""

from __future__ import annotations

OVERLAPS = """
() => {
  const faults = [];
  for (const svg of document.querySelectorAll('main svg')) {
    const frame = svg.getBoundingClientRect();
    if (!frame.width || svg.classList.contains('defs')) continue;
    const boxes = [...svg.querySelectorAll('text')].filter(t => t.getClientRects().length)
      .map(t => [t.textContent, t.getBoundingClientRect()]);
    boxes.forEach(([words, a], i) => {
      if (a.left < frame.left - 1 || a.right > frame.right + 1 || a.bottom > frame.bottom + 2)
        faults.push(`${words} leaves its drawing`);
      for (const [other, b] of boxes.slice(i + 1))
        if (a.left < b.right - 1 && b.left < a.right - 1
            && a.top < b.bottom - 3 && b.top < a.bottom - 3)
          faults.push(`${words} lies over ${other}`);
    });
  }
  return faults;
}
"""

LAID_OUT = """
() => {
  const faults = [], wide = document.documentElement.clientWidth;
  const full = document.documentElement.scrollWidth;
  if (full > wide) faults.push(`the page is ${full} wide`);
  const range = document.createRange();
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('svg, .skip, .unseen')) continue;
    if (!e.checkVisibility({visibilityProperty: true})) continue;
    const box = e.getBoundingClientRect();
    const words = e.textContent.trim().slice(0, 60), style = getComputedStyle(e);
    if (box.width < 2 || box.height < 2 || style.clipPath !== 'none') continue;
    if (/hidden|clip/.test(style.overflowX) && e.scrollWidth > e.clientWidth + 1)
      faults.push(`${words} is cut off`);
    for (const node of e.childNodes) {
      if (node.nodeType !== Node.TEXT_NODE || !node.data.trim()) continue;
      range.selectNodeContents(node);
      for (const part of range.getClientRects())
        if (part.width > 1 && (part.right > wide + 1 || (part.left < -1 && part.right > 0)))
          faults.push(`${words} leaves the page`);
    }
  }
  return [...new Set(faults)];
}
"""
"""The page is no wider than its window, and no words are cut off or leave it."""
