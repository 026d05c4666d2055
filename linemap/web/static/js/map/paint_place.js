// The place a station search led to: a cross on the line.

/** Painter of `state.place`, when there is one. */
function placePainter(state) {
  return (view) => {
    if (!state.place) return;
    const { ctx, palette } = view;
    ctx.translate(view.px(state.place.x), view.py(state.place.y));
    for (const [width, colour] of [[6, palette.halo], [2.5, palette.chosen]]) {
      ctx.lineWidth = width;
      ctx.strokeStyle = colour;
      ctx.beginPath();
      for (const [x, y] of [[0, -1], [1, 0], [0, 1], [-1, 0]]) {
        ctx.moveTo(x * 5, y * 5);
        ctx.lineTo(x * 18, y * 18);
      }
      ctx.stroke();
    }
  };
}

export { placePainter };
