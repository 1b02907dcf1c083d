// Texts of charts and pictures that lie on each other, or that their picture cuts off.
() => {
  const seen = e => {
    const box = e.getBoundingClientRect(), look = getComputedStyle(e);
    return box.width > 0 && box.height > 0 && look.visibility !== 'hidden' && look.fill !== 'none';
  };
  const found = [];
  for (const svg of document.querySelectorAll('.wb svg')) {
    const frame = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll('text')].filter(t => t.textContent.trim() && seen(t))
      .map(t => ({said: t.textContent.trim(), box: t.getBoundingClientRect()}));
    texts.forEach(({said, box}, first) => {
      if (Math.max(frame.left - box.left, box.right - frame.right) > 3) found.push(`'${said}' is cut off`);
      for (const other of texts.slice(first + 1)) {
        const wide = Math.min(box.right, other.box.right) - Math.max(box.left, other.box.left);
        const high = Math.min(box.bottom, other.box.bottom) - Math.max(box.top, other.box.top);
        if (wide > 0 && high > 0.35 * Math.min(box.height, other.box.height))
          found.push(`'${said}' lies on '${other.said}'`);
      }
    });
  }
  return found;
}
