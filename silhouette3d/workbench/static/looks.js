// How what the scene shows looks, by its role, from the program's theme.

window.silhouetteLooks = (() => {
  const { ambient, paints } = window.silhouetteTheme;
  const rgb = (hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
  const face = ({ colour, opacity }) => ({
    color: rgb(colour), opacity, ambient, diffuse: 1.0, specular: 0.0, interpolation: 0,
    backfaceCulling: true, // bodies are closed: nobody sees the inside of a wall
  });
  const line = ({ colour, width }) => ({ color: rgb(colour), lineWidth: width, lighting: false });
  const bare = Object.fromEntries(
    Object.entries(paints).map(([role, paint]) => [role, paint.width ? line(paint) : face(paint)]),
  );
  // Of the block only the far faces are drawn, and no light falls on them.
  Object.assign(bare.stock, { lighting: false, backfaceCulling: false, frontfaceCulling: true });
  const SOLID = new Set(["part", "held", "loose", "part-cut", "held-cut", "loose-cut"]);
  return {
    of: (role) => bare[role] || bare.part,
    // The far faces of a block that holds all bodies lie behind them, and none behind another:
    // the usual blending of transparent faces, which takes several passes, is not needed.
    isBackdrop: (role, apart) => role === "stock" && !apart,
    canBePicked: (role) => SOLID.has(role),
    hasCorners: (role) => role.endsWith("-edge") && SOLID.has(role.slice(0, -5)),
  };
})();
