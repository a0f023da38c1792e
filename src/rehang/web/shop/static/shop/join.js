// A phone that came by the square of a one-time code carries name and code behind the #, which no
// line is told of. They go along to the page of the code, and stand in its fields.
const [, name, code] = decodeURIComponent(location.hash).match(/^#([^.]+)\.([0-9A-Z]{12})$/) || [];
const onward = document.querySelector("[data-onward]");
const field = document.querySelector('input[name="code"]');

if (code && onward) onward.href = `${onward.href.replace(/\/$/, "")}/code/${location.hash}`;
if (code && field) {
  field.value = code.replace(/(.{4})(?=.)/g, "$1-");
  document.querySelector('input[name="name"]').value = name;
  history.replaceState(null, "", location.pathname);
  document.querySelector('input[name="new"]').focus();
}
