// The page of automatic layouts by itself: follows the search; taking is an ordinary form.

import { Lay } from "./lay.js";

new Lay(document.getElementById("ws-lay"));
