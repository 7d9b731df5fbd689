// Put the token that stands behind the # of the address into the form, and take it out of the
// address, so that it stays out of the browser's history.
const behind = window.location.hash.slice(1);
if (/^fdp_[0-9a-f]{32}_[0-9a-z-]{30,80}$/.test(behind)) {
  document.getElementById("token").value = behind;
  window.history.replaceState(null, "", window.location.pathname);
}
