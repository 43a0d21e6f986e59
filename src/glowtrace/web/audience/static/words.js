// The words around the picture. All text is put as text: learners may have written parts of it.

function element(tag, text = "", css = "") {
  const made = document.createElement(tag);
  made.textContent = text;
  if (css) made.className = css;
  return made;
}

// Shows the knobs; tells whether more has changed than figures that take the same room.
export function putKnobs(list, rows) {
  const texts = rows.flatMap(({ name, value, note }) => [name, value, note]);
  const shape = rows.map(({ name, value, note }) => `${name}|${value.length}|${note}`).join();
  const places = [...list.querySelectorAll("dt, span, small")];
  const isNew = places.length !== texts.length;
  if (isNew) {
    const made = rows.map(({ name, value, note }) => {
      const row = element("div");
      const told = element("dd");
      told.append(element("span", value), " ", element("small", note));
      row.append(element("dt", name), " ", told);
      return row;
    });
    list.replaceChildren(...made);
  } else {
    places.forEach((place, i) => {
      if (place.textContent !== texts[i]) place.textContent = texts[i];
    });
  }
  const hasChanged = isNew || list.dataset.shape !== shape;
  list.dataset.shape = shape;
  return hasChanged;
}

export function putLesson({ question, note, tallies, invitation }) {
  document.getElementById("question").textContent = question;
  document.getElementById("note").textContent = note;
  const rows = tallies.map(([text, count]) => {
    const row = element("li");
    row.append(element("b", count), " ", element("span", text));
    return row;
  });
  document.getElementById("tallies").replaceChildren(...rows);
  putInvitation(document.getElementById("invitation"), invitation);
}

function putInvitation(place, invitation) {
  place.hidden = !invitation;
  if (!invitation) return place.replaceChildren();
  const code = element("img");
  code.src = invitation.picture;
  code.alt = `The address ${invitation.address} as a picture to scan`;
  const words = element("div", "", "invitation-words");
  words.append(element("p", invitation.address, "address"), element("p", invitation.code, "code"));
  words.style.setProperty("--length", invitation.address.length);
  place.replaceChildren(code, words);
}
