"""What a browser is asked about any page."""

from __future__ import annotations

OVERLAPS = """
() => {
  const faults = [];
  for (const svg of document.querySelectorAll('main svg')) {
    const frame = svg.getBoundingClientRect();
    if (!frame.width || svg.classList.contains('defs')) continue;
    const boxes = [...svg.querySelectorAll('text')]
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
