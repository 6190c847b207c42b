"""Spanish words of the advisor's part, its picture, the page's frame and its cautions.

Plain words that are understood on both sides of the Atlantic. Keys are those of the English
catalog; figures have a decimal comma. Leans on words.plural.
"""

from wickstats.core.words.plural import Entry, Plural

SPANISH: dict[str, Entry] = {
    # the page's frame
    "page skip": "Ir a los resultados",
    "page contents": "Partes de esta página",
    "page elsewhere": "Lo demás está en inglés.",
    "picture data": "Cifras del dibujo, en esta carpeta:",
    "not advice": "Este informe no es un consejo de ingeniería ni de seguridad.",
    # banners
    "banner invented": (
        "INVENTADO: este ensayo y todos sus datos son inventados, como demostración."
    ),
    "banner simulated": "SIMULADO: no se cultivó ninguna planta para estas cifras.",
    "banner not at random": (
        "SIN SORTEO: no se puede separar el lugar del método, así que no se da veredicto."
    ),
    "banner early look": (
        "ANTES DEL FINAL: los registros acaban el {until}, antes que la temporada. Esta página "
        "describe; solo una mirada al final confirma."
    ),
    "banner not last look": (
        "NO ES LA ÚLTIMA: se conoce una mirada posterior a esta temporada. Esta página no "
        "confirma nada."
    ),
    "simulated mark": "SIMULADO",
    "simulated title": "SIMULADO: {title}",
    # numbers
    "range": "{low} a {high}",
    "no lower limit": "sin límite inferior",
    "no upper limit": "sin límite superior",
    "listed": "{most} y {last}",
    # headings
    "advisor title": "Qué encontró este ensayo",
    "advisor tried": "Qué se probó",
    "advisor answer": "La respuesta",
    "advisor sure": "¿Con qué seguridad se sabe?",
    "advisor cost": "Cuánto costó",
    "advisor limits": "Quién no debe confiar en esto",
    "advisor more": "Qué diría más",
    # what was tried
    "tried arms": "Se compararon {n} formas: {arms}.",
    "tried one": "Se probó una sola forma, como piloto: {arms}. No se comparó con otra.",
    "tried mixes": "Se compararon {n} formas: mezclas de {factors}.",
    "tried factor": "{factor} ({levels})",
    "tried against": "Cada una se comparó con {reference}.",
    "tried factor against": "En {factor}, cada opción se comparó con {reference}.",
    "tried all pairs": "Cada una se comparó con todas las demás.",
    "tried subjects": "Hubo {subjects} en {units}.",
    "tried units": "Hubo {units} en total.",
    "tried season": "La temporada fue del {start} al {end}.",
    "tried bench season": "El trabajo de banco fue del {start} al {end}.",
    "count plants": Plural("{n} planta", "{n} plantas"),
    "count subjects": Plural("{n} sujeto", "{n} sujetos"),
    "count plots": Plural("{n} parcela", "{n} parcelas"),
    "count units": Plural("{n} unidad", "{n} unidades"),
    "count pieces": Plural("{n} trozo de cuerda", "{n} trozos de cuerda"),
    # the answer
    "answer none": "Este ensayo no da veredicto. Las cifras de abajo dicen lo que se vio.",
    "answer nothing": (
        "Esta temporada no dejó nada que comparar. El porqué está abajo, en cada respuesta."
    ),
    "answer pilot only": "Un piloto no compara. Muestra a cuánto llegan estas parcelas:",
    "answer pilot": "{name}: {value}{unit} de promedio ({between}).",
    "pilot plots": "Las parcelas",
    "pilot pieces": "Los trozos de cordón",
    "pilot spread": (
        "{pieces} con igual trato difieren unos {value} de su promedio (desviación típica)."
    ),
    "pilot spread percent": (
        "{pieces} con igual trato difieren un {percent} % de su promedio (coeficiente de "
        "variación)."
    ),
    "more pilot": (
        "Un ensayo que compare formas de riego. Las diferencias entre estas parcelas dicen "
        "cuántos bloques necesita."
    ),
    "answer primary": "{name}, la pregunta principal:",
    "answer secondary": "{name}:",
    "answer exploratory": "{name}, sin plan previo, así que es solo una pista:",
    "answer line better": "{treatment} dio mejor resultado que {versus}: {effect}.",
    "answer line worse": "{treatment} dio peor resultado que {versus}: {effect}.",
    "answer line more": "{treatment} tuvo más que {versus}: {effect}.",
    "answer line less": "{treatment} tuvo menos que {versus}: {effect}.",
    "answer line the same for practical purposes": (
        "{treatment} vale lo mismo que {versus}, para lo que importa: {effect}."
    ),
    "answer line the same for practical purposes, though slightly better": (
        "{treatment} vale lo mismo que {versus} para lo que importa, o apenas más: {effect}."
    ),
    "answer line the same for practical purposes, though slightly worse": (
        "{treatment} vale lo mismo que {versus} para lo que importa, o apenas menos: {effect}."
    ),
    "answer line the same for practical purposes, though slightly more": (
        "{treatment} es como {versus} para lo que importa, con apenas más: {effect}."
    ),
    "answer line the same for practical purposes, though slightly less": (
        "{treatment} es como {versus} para lo que importa, con apenas menos: {effect}."
    ),
    "answer line no worse by more than matters": (
        "{treatment} no es mucho peor que {versus} y puede ser mejor: {effect}."
    ),
    "answer line no better by more than matters": (
        "{treatment} no es mucho mejor que {versus} y puede ser peor: {effect}."
    ),
    "answer line no less by more than matters": (
        "{treatment} no tiene mucho menos que {versus} y puede tener más: {effect}."
    ),
    "answer line no more by more than matters": (
        "{treatment} no tiene mucho más que {versus} y puede tener menos: {effect}."
    ),
    "answer line none": "{treatment} y {versus}: sin veredicto; abajo se dice por qué.",
    "answer line none at all": "Aquí no hay veredicto. Los motivos están abajo.",
    "answer line not shown better": (
        "No se mostró que {treatment} sea mejor que {versus}: {effect}."
    ),
    "answer line cannot tell": "{treatment} o {versus}: no se puede saber; {effect}.",
    "pair": "{treatment} frente a {versus}",
    # names that the plan's comparisons make of treatments
    "average of": "el promedio de {names}",
    "trend line end": "{high} en la línea recta",
    "trend line start": "{low} en la línea recta",
    "trend bend middle": "la mitad del rango",
    "trend bend ends": "la línea entre sus extremos",
    "answer share plants": "de cada 100 plantas, {value} con vida ({between})",
    "answer share subjects": "de cada 100 sujetos, {value} con vida ({between})",
    "answer share spared plants": (
        "de cada 100 plantas, {value} sin muerte por otra causa que animales ({between})"
    ),
    "answer share spared subjects": (
        "de cada 100 sujetos, {value} sin muerte por otra causa que animales ({between})"
    ),
    "answer bound": "{effect}; {fates}",
    "answer ratio": "{value} veces la cantidad ({between})",
    "answer difference more": "{value}{unit} más ({between})",
    "answer difference less": "{value}{unit} menos ({between})",
    "answer difference none": "no se vio diferencia ({between})",
    "answer end more": "{n} más",
    "answer end less": "{n} menos",
    "answer end none": "ninguna",
    "answer at most": "como mucho {n} veces la cantidad",
    "answer at least": "al menos {n} veces la cantidad",
    "answer more": "Las demás comparaciones están más abajo.",
    "as many": "las mismas",
    "n more": "{n} más",
    "n fewer": "{n} menos",
    # plants or subjects of which all lived or died
    "plants one": "planta",
    "subjects one": "sujeto",
    "fate lived": "vivió",
    "fate died": "murió",
    "fate lived spared": "se libró de otras causas",
    "fate died spared": "murió por otra causa",
    "fate known": "de destino conocido {fate}",
    "fate of one": "cada {one} de {name} {fate}",
    "fate of both": "cada {one} de {name} y de {other} {fate}",
    "fates apart": "cada {one} de {name} {fate} y cada {one} de {other} {second}",
    # how sure
    "sure level": (
        "El intervalo junto a cada cifra incluye el valor real en el {percent} de los ensayos "
        "como este."
    ),
    "sure not random": (
        "Nadie puede decirlo. Las parcelas no se repartieron al azar: la causa puede ser el "
        "terreno."
    ),
    "sure one side": (
        "El plan solo preguntó si cada una es mejor. No preguntó si alguna es peor."
    ),
    "sure nothing": "Nadie puede decirlo: no hay cifras.",
    "sure blocks": (
        "Las parcelas se compararon dentro de {blocks} bloques. Por eso el terreno pesa poco."
    ),
    "sure runs": "Los trozos se compararon dentro de {blocks} tandas. Por eso el día pesa poco.",
    "sure all lived plants": (
        "Todas las plantas de {arms} vivieron. En más parcelas como estas pueden vivir solo {n} "
        "de 100."
    ),
    "sure all died plants": (
        "Todas las plantas de {arms} murieron. En más parcelas como estas pueden vivir hasta {n} "
        "de 100."
    ),
    "sure all seen lived plants": (
        "Todas las plantas de {arms} de destino conocido vivieron. En más parcelas como estas "
        "pueden vivir solo {n} de 100."
    ),
    "sure all seen died plants": (
        "Todas las plantas de {arms} de destino conocido murieron. En más parcelas como estas "
        "pueden vivir hasta {n} de 100."
    ),
    "sure all seen lived subjects": (
        "Todos los sujetos de {arms} de destino conocido vivieron. De otros como estos pueden "
        "vivir solo {n} de 100."
    ),
    "sure all seen died subjects": (
        "Todos los sujetos de {arms} de destino conocido murieron. De otros como estos pueden "
        "vivir hasta {n} de 100."
    ),
    "sure all lived subjects": (
        "Todos los sujetos de {arms} vivieron. De otros como estos pueden vivir solo {n} de 100."
    ),
    "sure all died subjects": (
        "Todos los sujetos de {arms} murieron. De otros como estos pueden vivir hasta {n} de 100."
    ),
    "sure no plan": "No se escribió un plan antes de plantar. Tome todo como una pista.",
    "sure lost": Plural(
        "No se usó {n} de {planted} plantas. El motivo está abajo.",
        "No se usaron {n} de {planted} plantas. Los motivos están abajo.",
    ),
    "sure lost subjects": Plural(
        "No se usó {n} de {planted} sujetos. El motivo está abajo.",
        "No se usaron {n} de {planted} sujetos. Los motivos están abajo.",
    ),
    "sure queries": Plural(
        "Un dato raro de los registros espera revisión.",
        "{n} datos raros de los registros esperan revisión.",
    ),
    # what it cost
    "advisor cost survivor": "Cada planta viva costó, en {currency}: {list}.",
    "advisor cost kg": "Cada kg costó, en {currency}: {list}.",
    "advisor cost items only": "Solo cuenta lo que se compró, no el trabajo.",
    "advisor cost no things": "Solo cuentan el trabajo y los viajes, no lo que se compró.",
    # who should not rely on it
    "limits one": (
        "Es un solo lugar y una sola temporada. No confíe en esto con otro suelo, "
        "otras plantas o un año más húmedo o más seco."
    ),
    "limits bench": (
        "Es un solo banco. No confíe en esto con cuerda de otra marca, con agua sucia o "
        "salada, o en toda una temporada al aire libre."
    ),
    "limits site": "El suelo era: {soil}.",
    "limits survivors": "Los tamaños son de las plantas vivas.",
    "limits not random": "Las parcelas no se repartieron al azar.",
    # what would tell more
    "more blocks": "Para {response}, {comparison}: unos {blocks} bloques lo aclararían.",
    "more of one fate": (
        "Donde todas viven, o todas mueren, no se puede decir cuántos bloques harían falta. Una "
        "temporada más dura o más suave enseñaría más."
    ),
    "more blocks below": (
        "Con más bloques los intervalos serían más cortos. Cuántos, se dice abajo."
    ),
    "more runs below": (
        "Con más tandas los intervalos serían más cortos. Cuántas, se dice abajo."
    ),
    "more seasons": "Lo que más diría es una segunda temporada en otro lugar.",
    "more bench": "Lo que más diría: rollos nuevos, más tandas y una temporada en el campo.",
    # the picture
    "picture survival title": "Plantas vivas durante la temporada",
    "picture survival words": "Vivas al final, de 100 plantadas: {list}.",
    "picture survival bands": "Bandas: intervalos del {percent} por parcelas.",
    "picture survival rows": "Filas de abajo: plantas vistas vivas ese día o después.",
    "picture followed title": "Parte con vida durante el tiempo seguido",
    "picture followed words": "Con vida al final, de 100 seguidos: {list}.",
    "picture followed bands": "Bandas: intervalos del {percent} por unidades.",
    "picture followed rows": "Filas de abajo: los que se sabe vivos ese día.",
    "picture units cubic": "{unit} son gramos por litro; los archivos llevan {measured}.",
    "picture smooth brief": "Las líneas finas son curvas suaves.",
    "picture units title": "{name}: cada unidad y las medias",
    "picture units words": (
        "Medias: {list}. Las marcas huecas son unidades. La marca llena y la barra son la "
        "media y su intervalo del {percent}."
    ),
    "picture units range": (
        "Las medias van de {low} a {high}. Las marcas huecas son unidades. La marca llena y la "
        "barra son la media y su intervalo del {percent}."
    ),
    "picture units levels": "Cada unidad figura una vez bajo cada factor.",
    "picture units plain": "Las marcas huecas son unidades; no se puede dar una media.",
    "picture at most": "como mucho {n} (de un solo lado)",
    "picture at least": "al menos {n} (de un solo lado)",
    "mean words": "{treatment} {value}",
    "mean words until": "{treatment} {value} (el día {day}, el último en que se vigiló)",
    "mean words interval": "{treatment} {value} ({between})",
    "at most": "como mucho {n}",
    "at least": "al menos {n}",
    "axis days": "días desde la plantación",
    "axis alive": "vivas de 100 plantadas",
    "axis days followed": "días",
    "axis alive followed": "con vida de 100 seguidos",
    "smooth key": "líneas finas: curvas suaves ({shapes})",
    "at risk": "vistas vivas",
    "no unit left": "no queda ninguna unidad",
    # cautions
    "caution title": "Antes de que alguien actúe",
    "caution defer": (
        "En todo esto siga las leyes y normas de su lugar, y acuda a personas con licencia o "
        "formación donde se exijan. Ninguna lista de aquí hace seguro un paso."
    ),
    "caution buried services": (
        "Antes de cavar, clavar estacas o meter varillas, pida siempre al servicio local que "
        "marque las líneas enterradas. Las líneas privadas no se marcan. Cave a mano cerca de "
        "las marcas."
    ),
    "caution backflow": (
        "Toda unión con agua potable necesita un dispositivo antirretorno aprobado o un espacio "
        "de aire, probado por una persona certificada; más aún si se inyecta fertilizante."
    ),
    "caution water quality": (
        "Rotule todo tanque, llave y botella que no sea de agua potable, no use nunca botellas "
        "de alimentos y lleve aparte el agua de beber. El agua gris o reutilizada puede "
        "necesitar permiso."
    ),
    "caution heat": (
        "Trabajo con calor o a solas: agua, descanso, sombra, días que aumentan poco a poco, "
        "otra persona que pregunte por usted y un plan donde no hay señal de teléfono. La "
        "confusión con calor es una emergencia."
    ),
    "caution hauling": (
        "Un litro pesa un kilo y un bidón lleno, un quinto de tonelada: amarre y calce la carga, "
        "respete el límite de los ejes y levante entre dos."
    ),
    "caution open water": (
        "Tanques abiertos, recipientes hundidos y pozos necesitan tapa y una rampa de salida "
        "para niños, ganado y fauna. Nadie entra en un tanque y ninguna zanja queda sin apoyo. "
        "Cubra y dé sombra al agua quieta contra mosquitos y algas, vacíela entre temporadas y "
        "no rocíe agua estancada."
    ),
    "caution tools": (
        "Cortar, taladrar y cuchillas calientes: protección de ojos, la pieza sujeta, lejos del "
        "humo de la cuerda fundida, y al aire libre una toma eléctrica protegida."
    ),
    "caution glue": (
        "Pegamentos, solventes y selladores: lea la etiqueta y la hoja de seguridad; aire libre, "
        "guantes, sin llama; que curen antes de tocar el agua."
    ),
    "caution height": (
        "Un depósito en alto es una carga sobre la cabeza: un soporte que aguante todo el peso, "
        "sujeto para que no vuelque; una escalera en suelo firme con alguien al pie; nunca suba "
        "con un recipiente lleno."
    ),
    "caution electricity": (
        "Bombas y equipos solares: tensión muy baja donde se pueda. Lo que pase de ahí es para "
        "personas con licencia."
    ),
    "caution machines": (
        "Tractores, clavapostes e hidráulica: conductores con formación, protecciones y arco "
        "antivuelco puestos, nadie donde algo pueda aplastar y ninguna mano que busque una fuga."
    ),
    "caution animals": (
        "Serpientes, arañas, avispas, garrapatas y espinas: guantes, mirar antes de meter la "
        "mano en un protector o una caja, y un plan de primeros auxilios."
    ),
    "caution fire": (
        "Las chispas y los escapes calientes prenden la hierba seca: siga las reglas del día, "
        "estacione en suelo desnudo y deje las puertas como las encontró."
    ),
    "caution chemicals": (
        "Fertilizantes y químicos en un depósito, solo como la etiqueta permite para ese uso, "
        "nunca en una unión con agua potable; mezcle al aire libre, anote y guarde con llave."
    ),
    "caution nature": (
        "Pida permiso a quien posee la tierra y busque plantas protegidas o invasoras, "
        "madrigueras y sitios culturales antes de cavar o traer plantas. Deténgase si aparecen "
        "restos."
    ),
}
