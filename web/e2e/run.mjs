// The whole program in a real browser: the demo season is made in a temporary folder, and the page is used as its
// readers use it.
import './arrive.mjs';
import './shelf.mjs';
import './work.mjs';
import './serves.mjs';
import './season.mjs';
import './tables.mjs';
import './exports.mjs';
import './endings.mjs';
