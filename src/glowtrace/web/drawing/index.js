// What draws the gridded screen, for the desk and for the audience's window alike.

export { ScreenDrawing } from "./screen_drawing.js";
