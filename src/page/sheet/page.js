// What the sheets gain with a script: a photograph is sent as it is chosen, the steps are told while they are taken, and the
// seam and the marks of the scale can be moved by finger, mouse and keyboard. Without it every form still works.
"use strict";

document.documentElement.classList.add("script");

const byId = (id) => document.getElementById(id);

const tell = (text) => {
  const status = byId("status");
  if (status && status.textContent !== text) status.textContent = text;
};

/** What a problem says, whatever the server or the network sent. */
const said = (problem) => [problem.detail, problem.help].filter(Boolean).join(". ").replace(/\.\./g, ".");

// ---- the first sheet -------------------------------------------------------------------------------------------------

const front = byId("front");

if (front) {
  const form = byId("send");
  const most = Number(front.dataset.mostBytes);
  const preview = form.querySelector(".preview");
  let sending = false;

  const send = (file) => {
    if (!file || sending) return;
    if (file.size > most) {
      tell(`The photograph is larger than ${most >> 20} MB. Send it as JPEG, or at half its size.`);
      return;
    }
    sending = true;
    const picture = new Image();
    picture.alt = "The photograph that is being sent";
    picture.src = URL.createObjectURL(file);
    preview.replaceChildren(picture);
    picture.onerror = () => { preview.hidden = true; };
    preview.hidden = false;
    const fields = new FormData(form);
    const asked = new URLSearchParams({ name: file.name });
    for (const name of ["piece", "place", "stage"]) asked.set(name, fields.get(name) ?? "");
    const request = new XMLHttpRequest();
    request.open("POST", `/photographs?${asked}`);
    request.setRequestHeader("Accept", "application/json");
    request.upload.onprogress = (sent) => {
      if (sent.lengthComputable) tell(`Sending the photograph: ${Math.round((100 * sent.loaded) / sent.total)} %`);
    };
    request.upload.onload = () => tell("Opening the photograph …");
    request.onload = () => {
      if (request.status === 201) {
        location.href = JSON.parse(request.responseText).address;
        return;
      }
      failed(() => said(JSON.parse(request.responseText)));
    };
    request.onerror = () => failed(() => "The photograph could not be sent. Check the network and choose it again.");
    const failed = (why) => {
      sending = false;
      preview.hidden = true;
      form.reset();
      try { tell(why()); } catch { tell("The photograph could not be sent. Choose it again."); }
    };
    tell("Sending the photograph …");
    request.send(file);
  };

  for (const input of form.querySelectorAll(".file")) input.addEventListener("change", () => send(input.files[0]));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    tell("Choose a photograph first.");
  });

  front.querySelector(".drop").hidden = !matchMedia("(hover: hover)").matches;
  const carriesFile = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
  addEventListener("dragover", (event) => {
    if (!carriesFile(event)) return;
    event.preventDefault();
    document.body.classList.add("dropping");
  });
  addEventListener("dragleave", () => document.body.classList.remove("dropping"));
  addEventListener("drop", (event) => {
    if (!carriesFile(event)) return;
    event.preventDefault();
    document.body.classList.remove("dropping");
    send(event.dataTransfer.files[0]);
  });
  // Coming back by the browser's own button, the sheet is as it was left.
  addEventListener("pageshow", () => { sending = false; preview.hidden = true; tell(""); });
}

// ---- the sheet of one photograph -------------------------------------------------------------------------------------

const main = byId("seam");

if (main) {
  const form = byId("asked");
  const pane = byId("pane");
  const image = pane.querySelector("img");
  const width = Number(main.dataset.width);
  const height = Number(main.dataset.height);
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("preserveAspectRatio", "none");
  svg.setAttribute("aria-hidden", "true");
  pane.append(svg);
  const loupe = document.createElement("div");
  loupe.className = "loupe";
  loupe.hidden = true;
  pane.append(loupe);

  // By name: a form's `elements.length` is how many there are, not the field of that name.
  const field = (name) => form.elements.namedItem(name);

  // The three sets of points, each with the field that it is told in.
  const read = (text) => (text || "").trim().split(/\s+/).filter(Boolean).map((pair) => pair.split(",").map(Number));
  const written = (points) => points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
  const seam = { field: field("seam"), points: [], name: "Seam point" };
  const ends = { field: field("ends"), points: read(field("ends").value), name: "End" };
  const corners = { field: field("corners"), points: read(field("corners").value), name: "Corner" };
  let path = [];

  const scale = () => field("scale").value;
  const shownSets = () => [seam, ...(scale() === "length" ? [ends] : []), ...(scale() === "rectangle" ? [corners] : [])];

  const fit = () => {
    const widest = Math.min(pane.parentElement.clientWidth - 2, (0.8 * innerHeight * width) / height);
    pane.style.maxWidth = `${Math.max(widest, 200)}px`;
  };
  addEventListener("resize", fit);
  fit();

  const line = (points, closed, kind) => {
    const way = points.map(([x, y], k) => `${k ? "L" : "M"}${x} ${y}`).join("") + (closed ? "Z" : "");
    for (const layer of ["under", "over"]) {
      const drawn = document.createElementNS("http://www.w3.org/2000/svg", "path");
      drawn.setAttribute("d", way);
      drawn.setAttribute("class", `${layer} ${kind}`);
      svg.append(drawn);
    }
  };

  const place = (handle, [x, y]) => {
    handle.style.left = `${(100 * (x + 0.5)) / width}%`;
    handle.style.top = `${(100 * (y + 0.5)) / height}%`;
  };

  const drawLines = () => {
    svg.replaceChildren();
    const moved = seam.field.value.trim() !== "";
    const along = moved || path.length < 2 ? seam.points : path;
    if (along.length > 1) line(along, false, "seamline");
    if (scale() === "length" && ends.points.length > 1) line(ends.points, false, "scaled");
    if (scale() === "rectangle" && corners.points.length > 2) line(corners.points, true, "scaled");
  };

  const draw = () => {
    const focused = document.activeElement?.dataset?.at;
    for (const old of pane.querySelectorAll(".handle")) old.remove();
    for (const set of shownSets()) {
      set.points.forEach((point, k) => {
        const handle = document.createElement("button");
        handle.type = "button";
        handle.className = set === seam ? "handle" : "handle mark";
        handle.dataset.at = `${set.name} ${k}`;
        handle.setAttribute("aria-label", `${set.name} ${k + 1} of ${set.points.length}, moved by the arrow keys`);
        place(handle, point);
        movable(handle, set, k);
        pane.append(handle);
        if (handle.dataset.at === focused) handle.focus({ preventScroll: true });
      });
    }
    byId("fewer").disabled = seam.points.length < 3;
    byId("more").disabled = seam.points.length < 2;
    drawLines();
  };

  const within = ([x, y]) => [Math.min(Math.max(x, 0), width - 1), Math.min(Math.max(y, 0), height - 1)];

  const moveTo = (handle, set, k, point) => {
    set.points[k] = within(point);
    set.field.value = written(set.points);
    place(handle, set.points[k]);
    drawLines();
  };

  const enlarge = ([x, y]) => {
    const box = pane.getBoundingClientRect();
    const times = Math.max(2.5, (1.2 * image.naturalWidth) / box.width);
    const [px, py] = [((x + 0.5) / width) * box.width, ((y + 0.5) / height) * box.height];
    loupe.hidden = false;
    const half = loupe.clientWidth / 2;
    loupe.style.backgroundImage = `url("${image.currentSrc}")`;
    loupe.style.backgroundSize = `${box.width * times}px ${box.height * times}px`;
    loupe.style.backgroundPosition = `${half - px * times}px ${half - py * times}px`;
    loupe.style.left = `${Math.min(Math.max(px, half), box.width - half)}px`;
    // Above the finger; below it where the top of the picture is near.
    loupe.style.top = `${py > 2.6 * half ? py - 1.8 * half : py + 1.8 * half}px`;
  };

  const movable = (handle, set, k) => {
    let grip = null;
    const at = (event) => {
      const box = pane.getBoundingClientRect();
      return [((event.clientX - box.left) / box.width) * width, ((event.clientY - box.top) / box.height) * height];
    };
    handle.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      handle.setPointerCapture(event.pointerId);
      const [x, y] = at(event);
      grip = [set.points[k][0] - x, set.points[k][1] - y, false];
    });
    handle.addEventListener("pointermove", (event) => {
      if (!grip) return;
      const [x, y] = at(event);
      grip[2] = true;
      moveTo(handle, set, k, [x + grip[0], y + grip[1]]);
      enlarge(set.points[k]);
    });
    const release = () => {
      loupe.hidden = true;
      if (grip?.[2]) ask(0);
      grip = null;
    };
    handle.addEventListener("pointerup", release);
    handle.addEventListener("pointercancel", release);
    handle.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!way) return;
      event.preventDefault();
      const step = (event.shiftKey ? 0.02 : 0.002) * Math.max(width, height);
      const [x, y] = set.points[k];
      moveTo(handle, set, k, [x + way[0] * step, y + way[1] * step]);
      tell(`${set.name} ${k + 1}: ${Math.round((100 * set.points[k][0]) / width)} % from the left, ${Math.round((100 * set.points[k][1]) / height)} % from the top`);
      ask(1200);
    });
  };

  // Where nothing is known, marks begin in the middle, within reach of a thumb.
  const begin = {
    seam: () => (field("along").value === "across" ? [[0.1, 0.5], [0.9, 0.5]] : [[0.5, 0.1], [0.5, 0.9]]),
    ends: () => [[0.3, 0.6], [0.7, 0.6]],
    corners: () => [[0.35, 0.4], [0.65, 0.4], [0.65, 0.7], [0.35, 0.7]],
  };
  const inPicture = (shares) => shares.map(([x, y]) => within([x * width, y * height]));

  const bringMarks = () => {
    if (scale() === "length" && ends.points.length !== 2) {
      ends.points = inPicture(begin.ends());
      ends.field.value = written(ends.points);
    }
    if (scale() === "rectangle" && corners.points.length !== 4) {
      corners.points = inPicture(begin.corners());
      corners.field.value = written(corners.points);
    }
    draw();
  };

  const takeAnswer = () => {
    const header = byId("answer").querySelector("[data-path]");
    path = header ? JSON.parse(header.dataset.path) : [];
    seam.points = header ? read(header.dataset.handles) : read(seam.field.value);
    draw();
  };

  // ---- measuring ----

  const steps = {
    waiting: "Waiting for the one before …",
    begun: "Looking for the scale card …",
    scale: "Looking for the seam …",
    seam: "Reading the lines on both sides …",
    lines: "Measuring how far they jump …",
    offset: "Weighing what to do …",
  };
  let working = false;
  let again = false;
  let timer = 0;

  /** Whether the scale that was chosen is told in full. */
  const whole = () => {
    const need = { length: ["length"], rectangle: ["width", "height"], repeat: ["repeat"] }[scale()] ?? [];
    return need.every((name) => field(name).value.trim() !== "");
  };

  const ask = (after) => {
    clearTimeout(timer);
    if (!whole()) {
      tell({ length: "Now say how far apart the two points are.", rectangle: "Now say how large the thing is.", repeat: "Now say how long the repeat is." }[scale()]);
      return;
    }
    timer = setTimeout(measure, after);
  };

  const heard = (step) => {
    if (steps[step.step]) tell(steps[step.step]);
    if (step.step === "seam") {
      path = step.points_px;
      drawLines();
    }
    if (step.step === "answer") {
      byId("answer").innerHTML = step.html;
      takeAnswer();
      const verdict = byId("answer").querySelector("h1");
      const [state, ...rest] = verdict ? [...verdict.childNodes].map((part) => part.textContent.trim()) : [];
      tell([state, rest.join(" ").trim()].filter(Boolean).join(": "));
    }
    if (step.step === "trouble") tell(said(step));
  };

  const measure = async () => {
    if (working) {
      again = true;
      return;
    }
    working = true;
    main.setAttribute("aria-busy", "true");
    tell("Sending what was asked …");
    try {
      const response = await fetch(form.action, {
        method: "POST",
        headers: { Accept: "application/x-ndjson" },
        body: new URLSearchParams(new FormData(form)),
      });
      if (!response.ok) {
        tell(said(await response.json()));
      } else {
        const reader = response.body.getReader();
        const decoder = new TextDecoder();
        let text = "";
        for (;;) {
          const { value, done } = await reader.read();
          if (done) break;
          text += decoder.decode(value, { stream: true });
          const lines = text.split("\n");
          text = lines.pop();
          for (const one of lines) heard(JSON.parse(one));
        }
      }
    } catch {
      tell("The page does not answer. Is seamstep still running, and the phone on the same network?");
    }
    working = false;
    main.removeAttribute("aria-busy");
    if (again) {
      again = false;
      measure();
    }
  };

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask(0);
  });
  form.addEventListener("change", (event) => {
    if (event.target.name === "scale") bringMarks();
    ask(200);
  });
  byId("thing").addEventListener("change", (event) => {
    const [across, down] = event.target.value.split("x");
    if (down) {
      field("width").value = across;
      field("height").value = down;
    }
  });

  byId("more").addEventListener("click", () => {
    let longest = 0;
    const gap = (k) => Math.hypot(seam.points[k + 1][0] - seam.points[k][0], seam.points[k + 1][1] - seam.points[k][1]);
    for (let k = 0; k + 1 < seam.points.length; k += 1) if (gap(k) > gap(longest)) longest = k;
    const [a, b] = [seam.points[longest], seam.points[longest + 1]];
    seam.points.splice(longest + 1, 0, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]);
    draw();
    tell("A point was added. Drag it to where the seam is.");
  });
  byId("fewer").addEventListener("click", () => {
    // The one that bends the line least goes.
    const bend = (k) => {
      const [a, b, c] = [seam.points[k - 1], seam.points[k], seam.points[k + 1]];
      return Math.abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
    };
    let least = 1;
    for (let k = 1; k + 1 < seam.points.length; k += 1) if (bend(k) < bend(least)) least = k;
    seam.points.splice(least, 1);
    seam.field.value = written(seam.points);
    draw();
    ask(0);
  });
  byId("look").addEventListener("click", () => {
    seam.field.value = "";
    seam.points = [];
    path = [];
    draw();
    ask(0);
  });

  byId("answer").addEventListener("click", (event) => {
    const mark = event.target.closest("[data-mark]")?.dataset.mark;
    if (mark === "seam") {
      if (seam.points.length < 2) seam.points = inPicture(begin.seam());
      seam.field.value = written(seam.points);
      draw();
      tell("Drag the round points along the seam; it is measured when you let go.");
    }
    if (mark === "length") {
      form.querySelector('[name="scale"][value="length"]').checked = true;
      bringMarks();
      tell("Drag the square marks to both ends of a known length, then say how long it is.");
    }
    if (mark) byId("marking").scrollIntoView();
  });

  takeAnswer();
  bringMarks();
  if ("fresh" in main.dataset) ask(0);
}
