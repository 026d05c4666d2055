// A page that only says something: light or dark, and print.

import { startPage } from "../shared/page.js";

void startPage(async () => {});
