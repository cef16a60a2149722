// A page works as the server sent it; scripts shorten paths.
import { enhanceAll } from "./lib/enhance.js";

await enhanceAll(document);
