// One canvas above the map, moved with it and repainted when it rests.
// Painters draw in order; each gets the same view and nothing else of Leaflet.

const MARGIN = 0.2; // of the viewport on each side, so that a drag has drawn ground to show
const MOST_PIXELS = 16e6;

/** Leaflet layer class; `L` is the global of the classic script. */
function makeCanvasLayer(L) {
  return L.Layer.extend({
    initialize(painters, palette) {
      this.painters = painters;
      this.palette = palette;
      this.frames = 0;
    },

    onAdd() {
      this.canvas = L.DomUtil.create("canvas", "leaflet-zoom-animated structures-canvas");
      this.canvas.setAttribute("aria-hidden", "true");
      this.getPane().appendChild(this.canvas);
      this.reset();
    },

    onRemove() {
      cancelAnimationFrame(this.wanted);
      this.canvas.remove();
    },

    getEvents() {
      return { moveend: this.reset, viewreset: this.reset, resize: this.reset, zoomanim: this.follow, zoom: this.pinch, move: this.keepCovered };
    },

    /** Animated zoom: move and scale the drawn canvas together with the panes. */
    follow(event) {
      const scale = this._map.getZoomScale(event.zoom, this.zoom);
      L.DomUtil.setTransform(this.canvas, this._map._latLngToNewLayerPoint(this.corner, event.zoom, event.center), scale);
    },

    /** Pinch and flyTo report "zoom" without "zoomanim". */
    pinch() {
      if (this._map._animatingZoom) return;
      const scale = this._map.getZoomScale(this._map.getZoom(), this.zoom);
      L.DomUtil.setTransform(this.canvas, this._map.latLngToLayerPoint(this.corner), scale);
    },

    /** A drag that reaches the edge of what is drawn repaints at once. */
    keepCovered() {
      if (this._map._animatingZoom || this._map.getZoom() !== this.zoom) return;
      const at = this._map.latLngToContainerPoint(this.corner);
      const size = this._map.getSize();
      if (at.x > 0 || at.y > 0 || at.x + this.width < size.x || at.y + this.height < size.y) this.reset();
    },

    reset() {
      const map = this._map;
      const size = map.getSize();
      const margin = size.multiplyBy(MARGIN).round();
      this.margin = margin;
      this.width = size.x + 2 * margin.x;
      this.height = size.y + 2 * margin.y;
      this.fitCanvas();
      const corner = map.containerPointToLayerPoint(margin.multiplyBy(-1));
      L.DomUtil.setTransform(this.canvas, corner, 1);
      this.zoom = map.getZoom();
      this.corner = map.layerPointToLatLng(corner);
      cancelAnimationFrame(this.wanted);
      this.draw();
    },

    fitCanvas() {
      const most = Math.sqrt(MOST_PIXELS / Math.max(1, this.width * this.height));
      this.ratio = Math.min(window.devicePixelRatio || 1, most);
      const width = Math.round(this.width * this.ratio);
      const height = Math.round(this.height * this.ratio);
      if (this.canvas.width === width && this.canvas.height === height) return;
      this.canvas.width = width;
      this.canvas.height = height;
      this.canvas.style.width = `${this.width}px`;
      this.canvas.style.height = `${this.height}px`;
    },

    /** What a painter may know: the context, the palette, and world to canvas pixels. */
    view() {
      const k = 2 ** this.zoom;
      const origin = this._map.project(this.corner, this.zoom);
      return {
        ctx: this.canvas.getContext("2d"),
        palette: this.palette,
        zoom: this.zoom,
        k,
        width: this.width,
        height: this.height,
        inner: { left: this.margin.x, top: this.margin.y, right: this.width - this.margin.x, bottom: this.height - this.margin.y },
        px: (x) => x * k - origin.x,
        py: (y) => y * k - origin.y,
        box: (margin) => ({
          minX: (origin.x - margin) / k,
          minY: (origin.y - margin) / k,
          maxX: (origin.x + this.width + margin) / k,
          maxY: (origin.y + this.height + margin) / k,
        }),
      };
    },

    draw() {
      if (!this._map) return;
      const view = this.view();
      view.ctx.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
      view.ctx.clearRect(0, 0, this.width, this.height);
      for (const paint of this.painters) {
        view.ctx.save();
        paint(view);
        view.ctx.restore();
      }
      this.frames += 1;
    },

    /** Paint once before the next frame, however many changes ask for it. */
    redraw() {
      cancelAnimationFrame(this.wanted);
      this.wanted = requestAnimationFrame(() => this.draw());
    },

    usePalette(palette) {
      this.palette = palette;
      this.draw();
    },

    /** World pixels of zoom 0 under a point of the map container. */
    worldAt(containerPoint) {
      const zoom = this._map.getZoom();
      const k = 2 ** zoom;
      const at = this._map.project(this._map.containerPointToLatLng(containerPoint), zoom);
      return { x: at.x / k, y: at.y / k, k };
    },
  });
}

export { makeCanvasLayer };
