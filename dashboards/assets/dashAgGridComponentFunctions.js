/* Cells of the register: the title as a link, the level as word and shape. */
var dagcomponentfuncs = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});
var dagfuncs = (window.dashAgGridFunctions = window.dashAgGridFunctions || {});

dagcomponentfuncs.PaintingLink = function (props) {
  const href = "/painting/" + encodeURIComponent(props.data.id);
  const go = (event) => {
    if (event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    window.dash_clientside.set_props("url", { pathname: href, search: "", hash: "" });
  };
  const link = React.createElement("a", { href, onClick: go }, props.value || "(no title)");
  const more = [props.data.id, props.data.maker].filter(Boolean).join(", ");
  return React.createElement("div", { className: "entry" }, link, React.createElement("div", { className: "quiet" }, more));
};

dagcomponentfuncs.LevelWord = function (props) {
  const shape = { 0: "clear", 1: "unknown", 2: "watch", 3: "act", 4: "urgent" }[props.value];
  const mark = shape ? React.createElement("span", { className: "shape " + shape, "aria-hidden": "true" }) : null;
  return React.createElement("span", { className: "level" }, mark, React.createElement("span", { className: "word" }, props.data.word));
};

dagfuncs.envwatchTheme = function (theme) {
  return theme.withParams({
    backgroundColor: "var(--paper)", foregroundColor: "var(--ink)", textColor: "var(--ink)",
    headerBackgroundColor: "var(--paper)", headerTextColor: "var(--soft)", borderColor: "var(--rule)",
    fontFamily: "inherit", fontSize: 15, headerFontSize: 14, headerFontWeight: 400, wrapperBorder: false,
    wrapperBorderRadius: 0, rowHoverColor: "var(--leaf)", accentColor: "var(--ink)", columnBorder: false,
    spacing: 6, borderRadius: 0,
  });
};
