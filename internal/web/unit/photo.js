// Marks a pin where the picture is tapped: the place goes into the two fields of
// the form, and the form is sent. Without this script the fields are typed.
const picture = document.querySelector('svg.photo');
const form = document.querySelector('form.marking');
if (picture && form) {
  picture.classList.add('tappable');
  document.querySelector('.tap-hint').hidden = false;
  document.querySelector('.type-hint').hidden = true;
  picture.addEventListener('click', (e) => {
    const r = picture.getBoundingClientRect();
    const part = (v, from, size) => Math.min(100, Math.max(0, (100 * (v - from)) / size)).toFixed(1);
    form.elements.x.value = part(e.clientX, r.left, r.width);
    form.elements.y.value = part(e.clientY, r.top, r.height);
    form.requestSubmit();
  });
}
