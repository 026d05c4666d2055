// A page that only says something: light or dark, and print.

import { restoreTheme, startTheme } from "../shared/theme.js";

restoreTheme();
startTheme(document.getElementById("theme"), () => {});
document.getElementById("print").addEventListener("click", () => window.print());
