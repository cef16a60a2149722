// A phone's photo has 2 to 12 megapixels; on bad Wi-Fi a smaller one gets there
// sooner. The picture is made smaller here before it is sent, turned as its
// camera says. Where that fails the original goes.
export function enhance(form) {
  const field = form.querySelector("input[type=file]");
  const most = Number(form.dataset.most || 2560);
  field.addEventListener("change", async () => {
    const file = field.files[0];
    if (!file) return;
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, most / Math.max(picture.width, picture.height));
      if (scale < 1) {
        const canvas = document.createElement("canvas");
        canvas.width = Math.round(picture.width * scale);
        canvas.height = Math.round(picture.height * scale);
        canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
        const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.9));
        const list = new DataTransfer();
        list.items.add(new File([blob], "photo.jpg", { type: "image/jpeg" }));
        field.files = list.files;
      }
    } catch { /* the original is sent */ }
    form.requestSubmit();
  });
}
