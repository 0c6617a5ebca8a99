// The page of automatic layouts by itself: follows the search; taking is an ordinary form.

import { AutoLayout } from "./auto_layout.js";

new AutoLayout(document.getElementById("ws-lay"));
