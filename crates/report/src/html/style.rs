//! The style of the page. Meaning is in words, numbers and shapes first; colour only repeats it.

pub(super) const PAGE: &str = "\
:root{color-scheme:light}\
*{box-sizing:border-box}\
html{scroll-padding:1rem}html:has(.m:target){scroll-padding-top:35vh}\
body{margin:0 auto;padding:1rem;max-width:72rem;font:1rem/1.45 Arial,Helvetica,'Liberation Sans',sans-serif;color:#111;background:#fff;overflow-wrap:anywhere}\
h1{font-size:1.6rem;margin:.2rem 0}h2{font-size:1.3rem;margin:2rem 0 .5rem;border-bottom:2px solid #111;padding-bottom:.2rem}\
h3{font-size:1.1rem;margin:1.2rem 0 .5rem}h4,article h3{font-size:1rem;margin:0 0 .3rem}h5{font-size:.9rem;margin:.8rem 0 .2rem}\
p{margin:.4rem 0}a{color:#00507f}a:focus-visible,[tabindex]:focus-visible{outline:3px solid #00507f;outline-offset:2px}\
.skip{position:absolute;left:-99rem}.skip:focus{left:1rem;top:.5rem;background:#fff;padding:.3rem;z-index:1}\
.verdict{font-size:1.25rem;padding:.6rem .8rem;border:3px solid #111;border-left-width:1rem}\
.verdict.broken{border-color:#a32b00}.verdict.open{border-style:dashed;border-color:#555}.verdict.sound{border-color:#00507f}\
.counts{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.3rem 1.5rem}\
.facts,.figures{display:flex;flex-wrap:wrap;gap:.3rem 1.5rem;margin:.5rem 0}.facts div,.figures div{min-width:8rem}\
dt{font-size:.85rem;color:#444}dd{margin:0;font-weight:bold}\
.aid{font-size:.9rem}\
nav ul{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.3rem 1rem}\
.finding{border:1px solid #767676;border-left:.6rem solid #767676;padding:.7rem .9rem;margin:.8rem 0;display:flow-root}\
.finding.violation{border-left-color:#a32b00}.finding.approval{border-left:.6rem double #00507f}.finding.advice{border-left:.6rem dotted #767676}.finding.open{border-left:.6rem dashed #767676}\
.finding:target{outline:4px solid #111;outline-offset:2px}\
.number-mark{display:inline-block;min-width:1.7em;text-align:center;border:2px solid #111;border-radius:1em;padding:0 .35em;margin-right:.2em}\
.severity{font-weight:bold}.message{font-size:1.05rem}\
.cite,.note{font-size:.88rem;color:#333}\
.workings{font-size:.85rem;margin:.2rem 0;padding-left:1.2rem;list-style:none;white-space:pre-wrap;font-family:'Liberation Mono',Consolas,monospace}\
.picture{float:right;display:block;max-width:45%;margin:0 0 .5rem 1rem;border:1px solid #767676}.picture svg{display:block;max-width:100%;height:auto}\
.tick{list-style:none;padding-left:0}.tick li{padding-left:1.7rem;position:relative;margin:.4rem 0}.tick li:before{content:'';position:absolute;left:0;top:.2rem;width:1rem;height:1rem;border:2px solid #111}\
.scroll{overflow:auto;max-width:100%;scroll-padding:0 35%}\
figure{margin:1rem 0;border:1px solid #767676}figure svg{display:block}\
table{border-collapse:collapse;font-size:.9rem;width:100%}th,td{text-align:left;vertical-align:top;padding:.25rem .6rem;border-bottom:1px solid #bbb;overflow-wrap:normal}\
thead th{border-bottom:2px solid #111}tbody th{font-weight:normal}th:first-child,td:first-child{padding-left:0}.number{text-align:right;font-variant-numeric:tabular-nums}\
@media (max-width:40rem){.picture{float:none;max-width:100%;margin:.5rem 0}th,td{padding:.25rem .4rem}}\
@page{margin:14mm}@page across{size:landscape;margin:10mm}@page tall{margin:10mm}\
@media print{html{font-size:9pt}body{padding:0;max-width:none}nav,.skip{display:none}a{color:inherit;text-decoration:none}\
.finding,tr,figure{break-inside:avoid}h2,h3,h4,h5{break-after:avoid}thead{display:table-header-group}\
.scroll{overflow:visible}.drawings{page:across}.drawings.tall{page:tall}figure{border:0;margin:0;page:across;break-before:page}h2+p+figure,.sheets+figure{break-before:auto}figure.tall{page:tall}figure svg{width:100%;height:auto;max-height:160mm}figure.tall svg{max-height:240mm}.sheets{display:none}\
.finding:target{outline:0}}";
