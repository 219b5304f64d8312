// The sheet is made to fit one side of A4 and of letter: printed it shrinks until it does.
(function () {
  "use strict";
  const SMALLEST = 0.4, STEP = 0.02;
  const body = document.body, sheet = document.querySelector(".page");
  body.classList.add("review", "measured");
  const room = document.querySelector(".review-room").clientHeight;
  const high = (size) => {
    body.style.setProperty("--fit", size.toFixed(2));
    return size * sheet.getBoundingClientRect().height;
  };
  let size = 1;
  while (size > SMALLEST && high(size) > room) size -= STEP;
  body.classList.remove("measured");
})();
