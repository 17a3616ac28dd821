// How what the scene shows looks, by its role. The colours are those of the pictures
// (Okabe and Ito, "Color Universal Design", 2008), and words or signs say the same.

window.silhouetteLooks = (() => {
  const rgb = (hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
  const face = (colour, opacity = 1) => ({
    color: rgb(colour), opacity, ambient: 0.36, diffuse: 1.0, specular: 0.0, interpolation: 0,
    backfaceCulling: true, // bodies are closed: nobody sees the inside of a wall
  });
  const line = (colour, lineWidth = 1.5) => ({ color: rgb(colour), lineWidth, lighting: false });
  // Lines wider than 2 are drawn another way, which leaves the whole view empty.
  const INK = "#1B2733";
  const bare = {
    part: face("#A9CDE6"),
    held: face("#D5DADF"),
    loose: face("#F2C14E"),
    "part-cut": face("#E3D7A8"),
    "held-cut": face("#C3C9CF"),
    "loose-cut": face("#E3D7A8"),
    stock: { ...face("#8A96A1", 0.1), lighting: false, backfaceCulling: false, frontfaceCulling: true },
    prism: face("#CC79A7", 0.09),
    lost: face("#D55E00", 0.45),
    "part-edge": line(INK),
    "held-edge": line(INK),
    "loose-edge": line(INK),
    "stock-edge": line("#76828D", 1),
    "prism-edge": line("#A84F80", 1),
    "lost-edge": line("#D55E00", 2),
    thin: line("#D55E00", 2),
  };
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
