// A uniform grid over points: which of them lie in a box, without looking at all.

/** Index points given as two Float64Array; `each` calls back with the row numbers near a box. */
function makeGrid(x, y) {
  const n = x.length;
  let x0 = Infinity;
  let y0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  for (let i = 0; i < n; i += 1) {
    if (x[i] < x0) x0 = x[i];
    if (x[i] > x1) x1 = x[i];
    if (y[i] < y0) y0 = y[i];
    if (y[i] > y1) y1 = y[i];
  }
  const side = Math.max(1, Math.min(512, Math.ceil(Math.sqrt(n / 4))));
  const width = ((x1 - x0 || 1e-9) / side) * 1.000001;
  const height = ((y1 - y0 || 1e-9) / side) * 1.000001;
  const first = new Uint32Array(side * side + 1);
  const cell = new Uint32Array(n);
  for (let i = 0; i < n; i += 1) {
    cell[i] = Math.floor((y[i] - y0) / height) * side + Math.floor((x[i] - x0) / width);
    first[cell[i] + 1] += 1;
  }
  for (let c = 0; c < side * side; c += 1) first[c + 1] += first[c];
  const next = first.slice(0, side * side);
  const rows = new Uint32Array(n);
  for (let i = 0; i < n; i += 1) {
    rows[next[cell[i]]] = i;
    next[cell[i]] += 1;
  }
  const clamp = (value) => Math.max(0, Math.min(side - 1, value));

  function each({ minX, minY, maxX, maxY }, visit) {
    if (n === 0 || maxX < x0 || minX > x1 || maxY < y0 || minY > y1) return;
    const left = clamp(Math.floor((minX - x0) / width));
    const right = clamp(Math.floor((maxX - x0) / width));
    const top = clamp(Math.floor((minY - y0) / height));
    const bottom = clamp(Math.floor((maxY - y0) / height));
    for (let row = top; row <= bottom; row += 1) {
      const end = first[row * side + right + 1];
      for (let k = first[row * side + left]; k < end; k += 1) visit(rows[k]);
    }
  }
  return { each, bounds: { minX: x0, minY: y0, maxX: x1, maxY: y1 } };
}

export { makeGrid };
