// Draws the OpenAPI document that the page names; everything comes from this server.
"use strict";
const place = document.getElementById("reference");
SwaggerUIBundle({
  url: place.dataset.document,
  domNode: place,
  deepLinking: true,
  docExpansion: "list",
  defaultModelsExpandDepth: 0,
  persistAuthorization: false,
  validatorUrl: null,
});
